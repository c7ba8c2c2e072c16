// What if: a guess before the run, a family of curves and a band, each by mouse and by keyboard. What they say is held
// against what the rest of the page says of the same day. Comparing days has tests of its own (compare.test.mjs).

import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import {
  axeSource, box, cells, launchDegrees as launches, openDayOf, openPart, press, quiet, ready, screenshot, settled, startSite, tableRows as rows, text, type, withModules,
} from "./harness.mjs";

let site;
before(async () => (site = await startSite()));
after(() => site?.close());

const openDay = (options) => openDayOf(site, options);
const tap = async (page, key, round = "") => {
  await page.locator("#what-if-compare .turnaround-ways select").selectOption(round);
  await page.locator(`[data-ready=${key}]`).click();
  await settled(page);
};
const numbers = (said) => said.replace(/−/g, "-").match(/-?\d+(\.\d+)?/g).map(Number);

test("a family: five values, one curve and one row each, by keyboard, with the day's own among them", async () => {
  const { page, log, close } = await openDay();
  await openPart(page, "family");
  const family = page.locator("#what-if-family");
  assert.deepEqual(await family.locator("[data-end]").evaluateAll((all) => all.map((one) => one.value)), ["55", "165"]);
  await press(page, "#family-draw");
  await page.locator("#family-rows tr").nth(4).waitFor();
  const found = await rows(page, "#family-rows");
  assert.deepEqual(found.map(([value]) => value), ["55 W/K", "83 W/K", "110 W/K", "138 W/K", "165 W/K"]);
  // No two curves have the same dash.
  const dashes = await page.locator("#family-rows .sample line").evaluateAll((all) => all.map((line) => line.getAttribute("stroke-dasharray")));
  assert.equal(new Set(dashes).size, 5, dashes.join(" | "));
  // In the middle stands the day itself.
  assert.equal(`${found[2][1]} °F`, await text(page, "#key-peak"));
  assert.equal(`${found[2][2]} °F`, await text(page, "#key-launch"));
  const inside = (await cells(page)).filter((row) => row[4] === "inside").length;
  assert.equal(found[2][3], `${inside} of 6`);
  const pans = found.map((row) => Number(row[2]));
  assert.ok(pans.every((pan, index) => index === 0 || pan < pans[index - 1]), `a larger cooler is cooler: ${pans}`);

  // An end of another unit; a change of the day runs it again; a reload draws it again.
  await family.locator("[data-end=low]").fill("110");
  await family.locator("[data-end=low]").press("Enter");
  await page.waitForFunction(() => document.querySelector("#family-rows th").textContent === "110 W/K");
  await type(page, box(page, "air.temperature"), "60");
  await page.waitForFunction(() => `${document.querySelector("#family-rows td").textContent} °F` === document.querySelector("#key-peak").textContent);
  const cold = await rows(page, "#family-rows");
  await page.reload();
  await ready(page);
  await page.locator("#family-rows tr").nth(4).waitFor();
  assert.deepEqual(await rows(page, "#family-rows"), cold);

  // A span that cannot be is refused with its limits; what another statement replaces is not offered.
  await family.locator("[data-end=high]").fill("5000");
  await family.locator("[data-end=high]").press("Enter");
  assert.match(await text(page, "#family-says"), /^Cooler size \(UA\) goes from 5 to 1500 W\/K/);
  assert.ok(await page.locator("#family-table").isHidden());
  await family.locator("select").first().selectOption("air.temperature");
  assert.deepEqual(await family.locator("[data-end]").evaluateAll((all) => all.map((one) => one.value)), ["30", "90"]);
  quiet(log);
  await close();
});

test("long work can be stopped, and what was asked of an older day is not shown", async () => {
  const { page, log, close } = await openDay();
  await openPart(page, "family");
  await openPart(page, "band");
  // Stopped in the same breath as it was begun.
  for (const which of ["family", "band"]) {
    await page.evaluate((id) => {
      document.querySelector(`#${id}-draw`).click();
      document.querySelector(`#${id}-stop`).click();
    }, which);
    assert.match(await text(page, `#${which}-says`), /^Stopped/);
  }
  await page.evaluate(() => document.querySelector("#band-draw").click());
  await page.waitForFunction(() => document.querySelector("#what-if-band progress").value > 0);
  await type(page, box(page, "air.temperature"), "60");
  assert.equal(await text(page, "#band-says"), "The day has changed: draw the band again.");
  await page.waitForTimeout(3000);
  for (const which of ["family", "band"]) {
    assert.ok(await page.locator(`#${which}-table`).isHidden());
    assert.ok(await page.locator(`#${which}-stop`).isHidden());
  }
  quiet(log);
  await close();
});

test("the band holds the day's own launches, is narrower with less that is spread, and goes with the day", async () => {
  const { page, log, close } = await openDay();
  await openPart(page, "band");
  const drawn = async () => {
    await press(page, "#band-draw");
    await page.locator("#band-rows tr").nth(5).waitFor({ timeout: 60_000 });
    return (await rows(page, "#band-rows")).map((row) => row.slice(1).map((cell) => cell.split("–").map(Number)));
  };
  const wide = await drawn();
  const own = await launches(page);
  wide.forEach(([converter, pan, elapsed], index) => {
    for (const [[low, high], value] of [[converter, own[index][0]], [pan, own[index][1]]]) {
      assert.ok(low < value && value < high, `round ${index + 1}: ${value} in ${low} to ${high}`);
    }
    assert.ok(elapsed[0] < elapsed[1]);
  });
  const [low, high] = wide.at(-1)[1];
  assert.ok((await text(page, "#band-says")).includes(`the pan stands at ${low}–${high} °F on the last launch`), await text(page, "#band-says"));
  assert.match(await text(page, "#band-says"), /19 times of 20\. Most of that is cooler size/);

  // Which and how much is listed; one that was measured is taken out by the keyboard and stays out.
  await page.locator("#band-spreads > summary").click();
  const listed = await page.locator(".spreads li").allTextContents();
  assert.ok(listed.includes("Cooler and fan: cooler size (UA)110 W/K ± 15 %"), listed.join());
  await page.locator("[data-spread='cooler.ua']").focus();
  await page.keyboard.press("Space");
  assert.match(await text(page, "#band-says"), /^What is spread has changed/);
  const less = await drawn();
  const width = (launch) => launch[1][1] - launch[1][0];
  assert.ok(width(less.at(-1)) < width(wide.at(-1)), `${less.at(-1)} of ${wide.at(-1)}`);
  await page.locator("label[for=units-si]").click();
  await settled(page);
  assert.match(await text(page, "#band-says"), /°C/);
  const celsius = (await rows(page, "#band-rows")).at(-1)[2].split("–").map(Number);
  // Rounded to the outside in both: a degree of each.
  less.at(-1)[1].forEach((value, index) => assert.ok(Math.abs((value - 32) / 1.8 - celsius[index]) < 1.6, `${celsius}`));
  await page.reload();
  await ready(page);
  await openPart(page, "band");
  assert.equal(await page.locator("[data-spread='cooler.ua']").isChecked(), false);
  quiet(log);
  await close();
});

test("a guess is marked by slider and by number, kept, and set beside the run", async () => {
  const { page, log, close } = await openDay();
  assert.match(await text(page, "#finding"), /°F/); // the page opens with a finished day
  await openPart(page, "guess");
  await press(page, "#guess-begin");
  const guess = page.locator("#guess-boxes input.number");
  assert.equal(await guess.count(), 3);
  assert.equal(await page.locator("[data-range='1']").getAttribute("aria-pressed"), "true"); // the first round fills the chart
  assert.ok(await page.locator("#guess-list li").count() === 0);
  await guess.nth(0).fill("250");
  await page.locator("[data-guess=pass]").focus();
  await page.keyboard.press("ArrowRight");
  await guess.nth(2).fill("120");
  await press(page, "#guess-show");
  const said = await page.locator("#guess-list li").allTextContents();
  assert.match(said[0], /^End of the hold on the brake: you said 250, it is \d+ °F, \d+ too (high|low)\.$/);
  assert.match(said[1], /^End of the pass: you said 201, it is \d+ °F/);
  // The hold ends at the launch, so the table of launches has the same number.
  assert.equal(numbers(said[0])[1], (await launches(page))[0][0]);
  for (const one of said) {
    const [guessed, is, off = 0] = numbers(one);
    assert.equal(Math.abs(guessed - is), off, one);
  }
  await page.reload();
  await ready(page);
  assert.deepEqual(await page.locator("#guess-list li").allTextContents(), said);
  await page.locator("label[for=units-si]").click();
  await settled(page);
  assert.match((await page.locator("#guess-list li").allTextContents())[0], /you said 121, it is \d+ °C/); // 250 °F is 121.1 °C
  await page.locator("#guess-clear").click();
  assert.equal(await page.locator("#guess-list li").count(), 0);
  // Skipping leaves nothing behind.
  await page.locator("#guess-begin").click();
  await page.locator("#guess-skip").click();
  assert.equal(await page.locator("#guess-list li").count(), 0);
  assert.ok(await page.locator("#guess-boxes").isHidden());
  quiet(log);
  await close();
});

test("overlays are lists of numbers at the day's own times, and only the guess is drawn while guessing", async () => {
  const { page, close } = await openDay();
  await withModules(page);
  const made = await page.evaluate(async () => {
    const main = document.querySelector("script[type=module]").src;
    const { createOverlays, timesOf } = await import(new URL("overlays.js", main).href);
    const store = { state: { view: {} }, view: (patch) => Object.assign(store.state.view, patch) };
    const overlays = createOverlays(store);
    const line = { node: "pan_fluid", label: "x", times_s: Float64Array.of(0, 1), value_k: Float64Array.of(300, 301), dash: [4, 3], light: "rgb(1, 20, 255)", dark: "#ffffff" };
    overlays.put("compare", [line]);
    overlays.put("guess", [line]);
    const both = structuredClone(store.state.view);
    overlays.hideLines(true);
    const hidden = Object.keys(store.state.view.overlays);
    overlays.hideLines(false);
    const times = Array.from(timesOf({ duration_s: 100, events: [{ start_s: 0, end_s: 60 }, { start_s: 60, end_s: 100 }], switches: [{ start_s: 10, end_s: 20 }] }));
    return { both, hidden, again: Object.keys(store.state.view.overlays), isArray: Array.isArray(store.state.view.overlays.compare[0].value_k), times };
  });
  assert.deepEqual(made.both.overlays.compare[0].value_k, [300, 301]);
  assert.deepEqual([made.both.overlays.compare[0].light, made.both.overlays.compare[0].dark, made.isArray], ["#0114ff", "#ffffff", true]);
  assert.deepEqual([made.hidden, made.again], [["guess"], ["compare", "guess"]]);
  for (const bend of [0, 10, 20, 60, 100]) assert.ok(made.times.includes(bend));
  assert.ok(made.times.every((time, index) => index === 0 || time > made.times[index - 1]));
  await close();
});

test("axe finds nothing to mend in it, nothing is wider than the page, light and dark, narrow and wide", async () => {
  for (const [width, colorScheme] of [[320, "light"], [360, "light"], [360, "dark"], [1280, "light"], [1280, "dark"]]) {
    const { page, log, close } = await openDay({ width, height: 900, colorScheme, reducedMotion: "reduce" });
    for (const id of ["guess", "compare", "family", "band"]) await openPart(page, id);
    await tap(page, "nothing", "2");
    await tap(page, "idle");
    await page.locator("#family-draw").click();
    await page.locator("#band-draw").click();
    await page.locator("#band-rows tr").nth(5).waitFor({ timeout: 60_000 });
    await page.locator("#family-rows tr").nth(4).waitFor();
    await page.locator("#band-spreads > summary").click();
    await page.locator("#guess-begin").click();
    await page.evaluate(axeSource);
    const violations = await page.evaluate(async () => {
      scrollTo(0, 0);
      const { violations: found } = await window.axe.run("#what-if", { rules: { "target-size": { enabled: true } } });
      return found.map(({ id, nodes }) => [id, nodes.slice(0, 3).map((node) => node.html.slice(0, 160))]);
    });
    assert.deepEqual(violations, [], `${width} ${colorScheme}`);
    assert.ok(await page.evaluate(() => document.documentElement.scrollWidth) <= width, `wider than ${width}`);
    const small = await page.locator("#what-if :is(button, select, summary, input:not([type=checkbox]), .spreads label)").evaluateAll((all) =>
      all.filter((one) => one.offsetParent && one.getBoundingClientRect().height < 43.5).map((one) => one.outerHTML.slice(0, 80)));
    assert.deepEqual(small, [], "targets of 44 px");
    await screenshot(page, `whatif-${width}-${colorScheme}`);
    quiet(log);
    await close();
  }
});
