// Questions in a racer's words: which part answers them and what is filled in; then five of them typed on the page.

import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { understand } from "../../www/question.js";
import { findViolations, openDayOf, quiet, screenshot, settled, startSite, text } from "./harness.mjs";

const known = {
  rounds: [1, 2, 3, 4, 5, 6],
  parameters: ["cooler.ua", "cooler.fan_air_flow", "circulation.flow", "transmission.pan_volume", "converter.k_factor", "air.temperature"],
};
const cases = [
  ["what if i shut down with the pump on", "compare", {}],
  ["Can I just let it idle?", "compare", {}],
  ["What if we shut off after round 3?", "compare", { round: 3 }],
  ["how long must it run before they call us", "plan", {}],
  ["They call us in 12 minutes after round 5", "plan", { round: 5, minutes: "12" }],
  ["they call me in eight minutes", "plan", { minutes: "8" }],
  ["pan says 215 F and the call is in 20 min, no fan", "plan", { minutes: "20", pan: "215 °F", fan: false }],
  ["the pan reads 200 and they call us in 9 min", "plan", { minutes: "9", pan: "200" }],
  ["how do we get all rounds alike", "plan", { round: "every" }],
  ["will my battery do it? pump through the converter", "plan", { route: "through_converter" }],
  ["Which cooler do I need", "size", { find: "cooler" }],
  ["do I need a bigger pump to be back in 15 min at 95 °F", "size", { find: "pump", minutes: "15", air: "95 °F" }],
  ["how big a fan do we need", "size", { find: "fan" }],
  ["how long can I hold it on the brake", "size", { find: "hold" }],
  ["how much does the fan matter", "family", { path: "cooler.fan_air_flow" }],
  ["does a deeper pan help?", "family", { path: "transmission.pan_volume" }],
  ["what if the air is 100 degrees", "family", { path: "air.temperature" }],
  ["how do I make every run the same", "plan", { round: "every" }],
  ["call in 15, pan is at 210", "plan", { minutes: "15", pan: "210" }],
  ["pan is 210 and they call in 15", "plan", { minutes: "15", pan: "210" }],
  ["8-10 minutes until call", "plan", { minutes: "8" }],
  ["they call us in half an hour", "plan", { minutes: "30" }],
  ["how long can i sit on the brake", "size", { find: "hold" }],
  ["should we run the pump", "compare", {}],
  ["where does the heat come from", "heat", {}],
  ["Why is it hot after one hold?", "heat", {}],
  ["is my gauge wrong", "lag", {}],
  ["How hot is too hot?", "limits", {}],
  ["Is my fluid finished?", "limits", {}],
  ["Why did the car pick up in round four?", "launches", {}],
  ["how sure are you", "band", {}],
  ["is that right, how accurate is it", "band", {}],
  ["what matters most", "band", {}],
];

test("words and numbers of a question are found, and no others", () => {
  for (const [typed, part, asks] of cases) {
    const found = understand(typed, known);
    assert.deepEqual([found?.part, found?.asks], [part, asks], typed);
  }
  assert.equal(understand("blue", known), null);
  assert.equal(understand("", known), null);
  assert.equal(understand("they call us after round 9", known).asks.round, undefined, "a round that the day does not have");
});

let site;
before(async () => (site = await startSite()));
after(() => site?.close());

async function ask(page, typed) {
  await page.locator(".question").fill(typed);
  await page.keyboard.press("Enter");
  await settled(page);
}
const until = (page, selector, pattern) => page.waitForFunction(([where, source]) => new RegExp(source).test(document.querySelector(where)?.textContent ?? ""), [selector, pattern.source], { timeout: 60_000 });

test("questions typed as a racer would are answered by the day on the page", async () => {
  const { page, log, close } = await openDayOf(site);
  await ask(page, "what if I shut down with the pump on");
  await until(page, "#every-says", /Ah/);
  assert.match(await text(page, "#ask-said"), /every way to spend the turnaround/);
  await page.locator("#what-if-compare").screenshot({ path: await screenshot(page, "question-1") });

  await ask(page, "they call us in 8 minutes after round 5, the pan reads 200");
  await until(page, "#plan-cautions", /You read 200\s°F/);
  assert.match(await text(page, "#ask-said"), /after round 5, called in 8 min, the pan reads 200/);
  assert.match(await text(page, "#plan-says"), /(in the window|too hot)/);
  assert.equal(await page.locator("[data-plan=minutes]").inputValue(), "8");

  await ask(page, "which cooler do I need to be back in the window in 12 min at 95 °F air");
  await until(page, "#size-says", /W\/K|within|already/);
  assert.match(await text(page, "#ask-said"), /cooler, back in 12 min, in air of 95 °F/);

  await ask(page, "how much does the fan matter");
  await until(page, "#family-says", /converter’s peak goes from \d+ to \d+/);
  assert.match(await text(page, "#family-says"), /fan/i);

  await ask(page, "where does the heat come from");
  assert.match(await text(page, "#ask-said"), /Where the heat went/);
  await page.waitForFunction(() => Math.abs(document.querySelector("#ledger-title").getBoundingClientRect().top) < innerHeight);
  await ask(page, "blue sky");
  assert.match(await text(page, "#ask-said"), /not understood/);
  quiet(log);
  await close();
});

test("by finger at 360 px: an example asks itself", async () => {
  const { page, log, close } = await openDayOf(site, { width: 360, height: 740, hasTouch: true, isMobile: true, colorScheme: "dark" });
  await page.getByRole("button", { name: /They call us in 8 minutes/ }).tap();
  await until(page, "#plan-says", /comes to the line|Nothing that may be used/);
  assert.ok(await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth));
  assert.deepEqual(await findViolations(page), []);
  quiet(log);
  await close();
});
