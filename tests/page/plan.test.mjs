// Plan between rounds: a question filled in by mouse, by keys and by finger, the answer held against what the page says of
// the day once the plan is in it.

import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { cells, findViolations, kept, openDayOf, quiet, ready, screenshot, settled, startSite, text, type } from "./harness.mjs";

let site;
before(async () => (site = await startSite()));
after(() => site?.close());

/** Opens a day with the plan of its last rest computed. */
async function openPlan(options) {
  const opened = await openDayOf(site, options);
  await opened.page.locator("#what-if-plan > summary").focus();
  await opened.page.keyboard.press("Enter");
  await answered(opened.page);
  return opened;
}
/** The answer to what is asked now: the worker is done, and what it found is shown. */
const answered = (page) => page.waitForFunction(() => {
  const says = document.querySelector("#plan-says")?.textContent;
  const refused = document.querySelector("#plan-refused")?.textContent;
  return (says || refused) && !document.querySelector(".plan-answer.old");
});
/** Asks, and waits for another answer. */
async function ask(page, act) {
  const was = await page.locator(".plan-answer").evaluate((node) => {
    window.planShown = 0;
    new MutationObserver(() => (window.planShown += 1)).observe(node, { attributes: true, attributeFilter: ["class"] });
    return node.className;
  });
  await act();
  await page.waitForFunction((before) => window.planShown >= 2 && document.querySelector(".plan-answer").className === before, was);
  await settled(page);
}
const field = (page, key) => page.locator(`[data-plan=${key}]`);
const round = (page) => page.locator("#what-if-plan select").first();
const rows = (page, selector) => page.locator(`${selector} tbody tr`).evaluateAll((all) => all.map((row) => [...row.cells].map((cell) => cell.textContent)));
const pans = async (page) => (await cells(page)).map((row) => Number(row[3]));
const degrees = (said) => Number(said.match(/(\d+)\s°[FC]/)[1]);

test("it answers how to spend the last rest, and the day with the plan in it comes to what it said", async () => {
  const { page, log, close } = await openPlan();
  assert.equal(await round(page).inputValue(), "5", "the rest before the last launch");
  const says = await text(page, "#plan-says");
  assert.match(says, /comes to the line at \d+\s°F, in the window/);
  const said = degrees(says.slice(says.indexOf("line at")));
  assert.ok(said >= 150 && said <= 170);
  // The steps name what is switched, and begin with what is computed now.
  const steps = await rows(page, "#plan-steps");
  assert.match(steps[0][0], /^at once$/);
  assert.match(steps[0][1], /engine off/);
  // With nothing on it would be too hot: the plan does something, and every way is there.
  await page.locator("#what-if-plan details.note > summary").click();
  const ways = await rows(page, "#plan-ways");
  assert.equal(ways[0][0], "Engine off and nothing");
  assert.match(ways[0][2], /^\+\d+$/);
  assert.equal(Number(ways[0][2]), Number(ways[0][1]) - 170);
  assert.equal(ways.filter(([name]) => name.startsWith("▸")).length, 1);

  const was = await pans(page);
  await page.locator("#plan-apply").click();
  await settled(page);
  const now = await pans(page);
  assert.deepEqual(now.slice(0, 5), was.slice(0, 5), "rounds before it stay");
  assert.equal(now[5], said, "the launch is at what was said");
  assert.equal(await page.locator("#undo").getAttribute("title"), "Plan after round 5");
  await answered(page);
  await page.waitForFunction(() => document.querySelector("#plan-apply").textContent === "The day has this plan");
  await page.keyboard.press("Control+z");
  await settled(page);
  assert.deepEqual(await pans(page), was, "one step of undo");
  quiet(log);
  await close();
});

test("typed readings and minutes, in any unit: too little time is said, with how long it would take", async () => {
  const { page, log, close } = await openPlan();
  await ask(page, () => type(page, field(page, "pan"), "230"));
  assert.match(await text(page, "#plan-cautions"), /You read 230\s°F where the day computes \d+/);
  await ask(page, () => type(page, field(page, "minutes"), "3 min"));
  const says = await text(page, "#plan-says");
  assert.match(says, /^Nothing that may be used brings the pan into the window by then\. The closest is: .* too hot/);
  const enough = Number(says.match(/It takes (\d+) min/)[1]);
  assert.ok(enough > 3, says);
  await ask(page, () => type(page, field(page, "minutes"), String(enough + 1)));
  assert.match(await text(page, "#plan-says"), /in the window/);
  // The same reading in the other unit is the same question.
  const before = await text(page, "#plan-says");
  await ask(page, () => type(page, field(page, "pan"), "110 °C"));
  assert.equal(await text(page, "#plan-says"), before);
  await page.locator("label[for=units-si]").click();
  await settled(page);
  assert.equal(await field(page, "pan").inputValue(), "110");
  assert.match(await text(page, "#plan-says"), /°C, in the window/);
  // What is not understood is named and stays.
  await type(page, field(page, "low"), "warm");
  await page.waitForFunction(() => document.querySelector("#plan-refused").textContent);
  assert.match(await text(page, "#plan-refused"), /Wanted at the launch “warm”: not understood/);
  await page.evaluate(() => document.activeElement.blur());
  assert.equal(await field(page, "low").inputValue(), "warm");
  await ask(page, () => type(page, field(page, "low"), "200"));
  assert.match(await text(page, "#plan-refused"), /at least 1 °F above/);
  quiet(log);
  await close();
});

test("what is not on the car is not used; what is asked is kept over a reload", async () => {
  const { page, log, close } = await openPlan();
  await ask(page, () => field(page, "idle").uncheck());
  await ask(page, () => page.locator("#what-if-plan select").nth(1).selectOption("none"));
  await page.locator("#what-if-plan details.note > summary").click();
  assert.deepEqual((await rows(page, "#plan-ways")).map(([name]) => name), ["Engine off and nothing", "▸ Fan alone"]);
  assert.match(await text(page, "#plan-says"), /fan /i);
  await ask(page, () => field(page, "fan").uncheck());
  assert.deepEqual((await rows(page, "#plan-ways")).map(([name]) => name), ["▸ Engine off and nothing"]);
  assert.match(await text(page, "#plan-says"), /^Nothing that may be used brings the pan into the window/);
  await ask(page, () => type(page, field(page, "high"), "160"));
  await page.reload();
  await ready(page);
  await page.locator("#what-if-plan[open]").waitFor();
  await answered(page);
  assert.equal(await field(page, "idle").isChecked(), false);
  assert.equal(await field(page, "high").inputValue(), "160");
  assert.equal(await page.locator("#what-if-plan select").nth(1).inputValue(), "none");
  quiet(log);
  await close();
});

test("the whole day by finger: launches alike, put in with one tap", async () => {
  const { page, log, close } = await openPlan({ width: 360, height: 740, hasTouch: true, isMobile: true });
  await round(page).selectOption("every");
  await page.waitForFunction(() => /apart instead of/.test(document.querySelector("#plan-says").textContent), null, { timeout: 60_000 });
  await answered(page);
  const planned = await rows(page, "#plan-launches");
  const was = await pans(page);
  assert.deepEqual(planned.map(([, is]) => Number(is)), was);
  await page.locator("#plan-apply").tap();
  await settled(page);
  const now = await pans(page);
  assert.deepEqual(now, planned.map(([, , plan]) => Number(plan)));
  assert.ok(Math.max(...now) - Math.min(...now) <= 1, `${now}`);
  assert.ok(Math.max(...was) - Math.min(...was) > 10, `${was}`);
  await answered(page);
  await page.waitForFunction(() => document.querySelector("#plan-apply").textContent === "The day has this plan");
  assert.ok(await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth), "nothing scrolls sideways");
  await screenshot(page, "plan-360");
  // Undo takes the whole plan out.
  await page.waitForTimeout(1300);
  const { scenario } = await kept(page);
  assert.ok(scenario.timeline.length >= 3);
  await page.locator("#undo").tap();
  await settled(page);
  assert.deepEqual(await pans(page), was);
  // One rest again.
  await round(page).selectOption("3");
  await page.waitForFunction(() => /comes to the line|Nothing that may be used/.test(document.querySelector("#plan-says").textContent));
  assert.ok((await rows(page, "#plan-steps")).length > 0);
  // A question that is not understood takes the answer away, so that no other plan is put in for it.
  await type(page, field(page, "pan"), "185 degrees");
  await page.waitForFunction(() => document.querySelector("#plan-refused").textContent);
  assert.equal(await text(page, "#plan-says"), "");
  assert.ok(await page.locator("#plan-apply").isHidden());
  quiet(log);
  await close();
});

test("a plan that idles, put into the day, is the plan of that day", async () => {
  const { page, log, close } = await openPlan();
  await page.locator("#what-if-plan select").nth(1).selectOption("none");
  await answered(page);
  const says = await text(page, "#plan-says");
  assert.match(says, /idle/);
  await page.locator("#plan-apply").click();
  await settled(page);
  await page.waitForFunction(() => document.querySelector("#plan-apply").textContent === "The day has this plan");
  assert.equal(await text(page, "#plan-says"), says);
  assert.equal(await round(page).inputValue(), "5");
  quiet(log);
  await close();
});

test("on a phone the answer stays in sight while the blanks are filled in", async () => {
  const { page, log, close } = await openPlan({ width: 360, height: 740, hasTouch: true, isMobile: true });
  for (const [key, value] of [["minutes", "9"], ["pan", "205"], ["high", "165"]]) {
    const was = await text(page, "#plan-says");
    await field(page, key).tap();
    await type(page, field(page, key), value);
    await page.waitForFunction((before) => document.querySelector("#plan-says").textContent !== before, was);
    const seen = await page.evaluate(() => {
      const { left, top, bottom } = document.querySelector("#plan-says").getBoundingClientRect();
      const over = document.elementFromPoint(left + 20, (top + bottom) / 2);
      return [top > 0 && bottom <= innerHeight, over.id];
    });
    assert.deepEqual(seen, [true, "plan-says"], key);
  }
  quiet(log);
  await close();
});

test("a day without launches, without rests, and a stopped search say so", async () => {
  const { page, log, close } = await openDayOf(site);
  await page.locator("#example").selectOption("dyno_bench_session");
  await settled(page);
  await page.locator("#what-if-plan > summary").click();
  await page.waitForFunction(() => document.querySelector("#plan-refused")?.textContent);
  assert.match(await text(page, "#plan-refused"), /no launch to plan for/);
  await page.locator("#example").selectOption("saturday_bracket_day");
  await page.waitForFunction(() => document.querySelector("#plan-says").textContent);
  await round(page).selectOption("every");
  await page.locator("#plan-stop").click();
  assert.equal(await text(page, "#plan-refused"), "Stopped.");
  quiet(log);
  await close();
});

for (const [width, colorScheme] of [[1280, "light"], [320, "dark"]]) {
  test(`axe finds nothing in the plan at ${width} px, ${colorScheme}, and nothing is cut off`, async () => {
    const { page, log, close } = await openPlan({ width, height: 900, colorScheme });
    await page.locator("#what-if-plan details.note > summary").click();
    assert.deepEqual(await findViolations(page), []);
    assert.ok(await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth));
    await page.locator("#what-if-plan").scrollIntoViewIfNeeded();
    await screenshot(page, `plan-${width}-${colorScheme}`);
    quiet(log);
    await close();
  });
}
