// Questions in a racer's words: which part answers them and what is filled in; then five of them typed on the page.

import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { EXAMPLES, MORE_EXAMPLES, understand } from "../../www/question.js";
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
  ["what if the air is 100 degrees", "family", { path: "air.temperature", value: "100" }],
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

// As racers type them; numbers that nothing takes are named. It is 14:50.
const typedSo = [
  ["I want to leave at 175", "plan", { low: "173", high: "177" }], ["get it down to 160", "plan", { low: "158", high: "162" }],
  ["back to 170 before they call, 12 minutes", "plan", { minutes: "12", low: "168", high: "172" }],
  ["195 at the pan", "plan", { pan: "195" }], ["pan 195", "plan", { pan: "195" }], ["shell reads 240", "plan", { shell: "240" }],
  ["they call at 3:15", "plan", { minutes: "25" }], ["it's 2:30 and they call at 3:15", "plan", { minutes: "45" }],
  ["2 hours", "plan", { minutes: "120" }], ["1 1/2 minutes", "plan", { minutes: "1.5" }], ["an hour", "plan", { minutes: "60" }],
  ["half an hour", "plan", { minutes: "30" }], ["90 seconds", "plan", { minutes: "1.5" }], ["in 1:30 they call", "plan", { minutes: "1.5" }],
  ["what if air is 95", "family", { path: "air.temperature", value: "95" }], ["what if it is 100 degrees out", "family", { path: "air.temperature", value: "100" }],
  ["5500 stall", "family", { path: "converter.k_factor" }, ["5500"]], ["change my fluid", "limits", {}],
  ["more fluid", "family", { path: "transmission.pan_volume" }], ["deeper pan", "family", { path: "transmission.pan_volume" }],
  ["what is the difference between pan loop and cooler first", "plan", { route: "any" }], ["do I need the pump", "compare", {}],
  ["should I run the fan", "compare", {}], ["should I shut it off", "compare", {}], ["after round 3 what", "plan", { round: 3 }],
  ["is my cooler big enough", "size", { find: "cooler" }], ["how big a cooler", "size", { find: "cooler" }],
  ["how long can I hold the brake", "size", { find: "hold" }], ["how long on the two-step", "size", { find: "hold" }],
  ["why is it hot", "heat", {}], ["shut down with the pump on", "compare", {}], ["engine off fan on", "compare", {}],
  ["pan 85 °C, call in 12,5 min", "plan", { minutes: "12.5", pan: "85 °C" }], ["THEY CAL US IN 8 MINUTS AFTER ROUND 5", "plan", { round: 5, minutes: "8" }],
  ["wich coolr do i need", "size", { find: "cooler" }], ["how much does teh fna matter", "family", { path: "cooler.fan_air_flow" }],
  ["want the pan at 165 on the launch, now 210, 20 min", "plan", { minutes: "20", pan: "210", low: "163", high: "167" }],
  ["keep the pan under 180, which cooler", "size", { find: "cooler", launch: "180" }], ["8 qt pan vs 5 qt", "family", { path: "transmission.pan_volume", value: "8 qt" }, ["5 qt"]],
  ["how long to cool from 220 to 160", "plan", { pan: "220", low: "158", high: "162" }], ["cool down 15 degrees", "plan", {}, ["15 degrees"]],
  ["run the fan for 10 minutes", "compare", {}, ["10 minutes"]], ["round 9 call in 8", "plan", { minutes: "8" }, ["round 9"]],
  ["is 220 in the pan ok", "limits", {}, ["220"]], ["what difference does 10 degrees of air make", "family", { path: "air.temperature" }, ["10 degrees"]],
  ["next call in one hour and 10 minutes", "plan", { minutes: "70" }], ["call in twenty five minutes", "plan", { minutes: "25" }],
];

test("as racers type them: every number is used or named", () => {
  for (const [typed, part, asks, unused = []] of typedSo) {
    const found = understand(typed, { ...known, minute_of_day: 14 * 60 + 50 });
    assert.deepEqual([found?.part, found?.asks, found?.unused], [part, asks, unused], typed);
  }
  assert.deepEqual(understand("they call at 3:15", known).unused, ["3:15"], "without a clock it is not used");
  for (const typed of [...EXAMPLES, ...MORE_EXAMPLES]) assert.deepEqual(understand(typed, known)?.unused, [], typed);
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

  await ask(page, "how sure are you");
  await until(page, "#band-says", /Most of that is/);
  assert.ok(await page.locator("#band-bars tr").count() >= 8);

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
