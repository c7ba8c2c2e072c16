// The question of size on the page: asked by mouse and keyboard, put into the day and taken back, stopped, and held
// against what the rest of the page says.

import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { axeSource, box, kept, openDayOf, quiet, screenshot, settled, startSite, text, type } from "./harness.mjs";

let site;
before(async () => (site = await startSite()));
after(() => site?.close());

async function open(options) {
  const opened = await openDayOf(site, options);
  await opened.page.locator("#what-if-size > summary").focus();
  await opened.page.keyboard.press("Enter");
  await opened.page.locator("#size-find").waitFor();
  return opened;
}
const find = async (page) => {
  await page.locator("#size-find").click();
  await page.locator("#size-stop").waitFor({ state: "hidden", timeout: 60_000 });
  await settled(page);
};
const ask = async (page, key, value) => {
  await page.locator(`input[data-size=${key}]`).fill(value);
  await page.locator(`input[data-size=${key}]`).press("Tab");
};
const says = (page) => text(page, "#size-says");

test("asked as a racer would, answered in a sentence, put into the day as one entry, and taken back", async () => {
  const { page, log, close } = await open();
  await ask(page, "minutes", "12");
  await ask(page, "air", "35 C");
  assert.equal(await page.locator("input[data-size=air]").inputValue(), "95");
  await page.locator("input[data-size=air]").press("Enter");
  await page.locator(".size-chart svg").first().waitFor({ state: "attached", timeout: 60_000 });
  const said = await says(page);
  const [, value] = said.match(/^A cooler of 110\sW\/K is enough as it is: back in [\d.]+\s(?:s|min)\. As little as ([\d.]+)\sW\/K would do; there is no need to fit less\.$/) ?? [];
  assert.ok(value, said);
  assert.equal(await page.locator("#size-says").getAttribute("role"), "status");
  const moves = await page.locator(".size-answer .changes li").allTextContents();
  assert.ok(["1 min less", "1 min more", "Air 10 °F hotter", "A tenth less", "A tenth more"].every((what) => moves.some((line) => line.replace(/\u00a0/g, " ").startsWith(what))), moves.join());
  const number = (line) => Number(line.match(/([\d.]+)\sW\/K$/)[1]);
  assert.ok(number(moves[0]) > Number(value) && number(moves[1]) < Number(value) && number(moves[2]) > Number(value), moves.join());
  const labels = await page.locator(".size-chart svg.for-light text").allTextContents();
  for (const label of ["12 min", "now", "answer", "Cooler size, W/K", "Pump flow, gpm"]) assert.ok(labels.includes(label), labels.join());

  await page.locator("#size-use").click();
  await settled(page);
  assert.equal((await kept(page)).scenario.setup.cooler.ua, `${value} W/K`);
  assert.equal(await text(page, "#size-use"), `${value} W/K is in the day`);
  assert.equal(await page.locator("#undo").getAttribute("title").then((title) => title.includes(`cooler ${value} W/K`)), true);
  await page.locator("#size-compare").click();
  await settled(page);
  assert.ok((await page.locator("#what-if-compare li").allTextContents()).some((line) => line.includes("110 W/K") && line.includes(value)));
  await page.locator("#undo").click();
  await settled(page);
  assert.equal((await kept(page)).scenario.setup.cooler.ua, "110 W/K");
  quiet(log);
  await close();
});

test("a smaller day needs more: the answer put in is enough, and a changed day makes it old", async () => {
  const { page, log, close } = await open({ width: 360 });
  await type(page, box(page, "cooler.ua"), "20");
  await ask(page, "minutes", "5");
  await find(page);
  const value = Number((await says(page)).match(/^It takes a cooler of ([\d.]+)\sW\/K: back in the window in 5\smin\. With 20\sW\/K as now:/)[1]);
  assert.ok(value > 20);
  await type(page, box(page, "air.temperature"), "70");
  assert.match(await says(page), /^What was asked has changed: find it again\./);
  assert.ok(await page.locator("#size-use").isHidden());
  await page.locator("#undo").click();
  await settled(page);
  await page.locator("#size-use").click();
  await settled(page);
  await find(page);
  assert.match(await says(page), /is enough as it is/);
  // In other units it is asked again.
  await page.locator("label[for=units-si]").click();
  await page.locator("#size-stop").waitFor({ state: "hidden", timeout: 60_000 });
  await page.waitForFunction(() => /in air of \d+.°C/.test(document.querySelector(".size-answer").textContent));
  assert.match(await text(page, ".size-answer"), /L\/min/);
  quiet(log);
  await close();
});

test("the time on the brake is found for all rounds, and put into all of them", async () => {
  const { page, log, close } = await open();
  await page.locator("select[data-size=find]").selectOption("hold");
  await page.locator("select[data-size=aim]").selectOption("converter_at_most");
  assert.ok(await page.locator("input[data-size=minutes]").isHidden());
  await ask(page, "converter", "350");
  await page.locator("select[data-size=against]").selectOption("air");
  await find(page);
  const [, value] = (await says(page)).match(/Up to ([\d.]+)\ss would do\./);
  await page.locator("#size-use").click();
  await settled(page);
  const { scenario } = await kept(page);
  assert.equal(scenario.timeline[3].events.find(({ event }) => event === "brake_hold").duration, `${value} s`);
  // The aim's number is the page's own key number, rounded.
  assert.ok(Math.abs(Number.parseFloat(await text(page, "#key-peak")) - 350) <= 1, await text(page, "#key-peak"));
  quiet(log);
  await close();
});

test("it can be stopped; what is not understood and what cannot be is said", async () => {
  const { page, log, close } = await open();
  await page.evaluate(() => {
    document.querySelector("#size-find").click();
    document.querySelector("#size-stop").click();
  });
  assert.equal(await says(page), "Stopped.");
  await ask(page, "minutes", "soon");
  await page.locator("#size-find").click();
  assert.match(await says(page), /“soon” is not understood: type minutes, such as 12\./);
  await ask(page, "minutes", "900");
  await find(page);
  assert.match(await says(page), /900 min: 0\.5 to 240 min/);
  assert.equal(await page.locator(".size-chart").count(), 0);
  quiet(log);
  await close();
});

test("units that are switched while it searches are those of the answer", async () => {
  const { page, log, close } = await open();
  await ask(page, "minutes", "12");
  await page.evaluate(() => {
    document.querySelector("#size-find").click();
    document.querySelector("label[for=units-si]").click();
  });
  await page.waitForFunction(() => /in air of \d+.°C/.test(document.querySelector(".size-answer").textContent), null, { timeout: 60_000 });
  await page.locator("#size-stop").waitFor({ state: "hidden", timeout: 60_000 });
  assert.doesNotMatch(await text(page, ".size-answer"), /gpm/);
  assert.doesNotMatch(await text(page, ".size-answer .changes"), /°F/);
  assert.match(await says(page), /^A cooler of [\d.]+\sW\/K is enough as it is/);
  quiet(log);
  await close();
});

test("axe finds nothing to mend, nothing is wider than the page, light and dark, narrow and wide", async () => {
  for (const [width, colorScheme] of [[320, "light"], [360, "dark"], [1280, "light"]]) {
    const { page, log, close } = await open({ width, height: 900, colorScheme, reducedMotion: "reduce" });
    await find(page);
    await page.locator(".size-answer details > summary").click();
    await page.evaluate(axeSource);
    const violations = await page.evaluate(async () => {
      const { violations: found } = await window.axe.run("#what-if-size", { rules: { "target-size": { enabled: true } } });
      return found.map(({ id, nodes }) => [id, nodes.slice(0, 3).map((node) => node.html.slice(0, 160))]);
    });
    assert.deepEqual(violations, [], `${width} ${colorScheme}`);
    assert.ok(await page.evaluate(() => document.documentElement.scrollWidth) <= width, `wider than ${width}`);
    const small = await page.locator("#what-if-size :is(button, select, summary, input)").evaluateAll((all) =>
      all.filter((one) => one.offsetParent && one.getBoundingClientRect().height < 43.5).map((one) => one.outerHTML.slice(0, 80)));
    assert.deepEqual(small, [], "targets of 44 px");
    assert.equal(await page.locator(".size-chart svg:visible").count(), 1);
    await page.locator("select[data-size=find]").selectOption("hold");
    assert.ok(await page.locator("select[data-size=hold_round]").evaluate((node) => node.getBoundingClientRect().height >= 43.5));
    assert.ok(await page.evaluate(() => document.documentElement.scrollWidth) <= width, `wider than ${width} with a hold`);
    await screenshot(page, `size-${width}-${colorScheme}`);
    quiet(log);
    await close();
  }
});
