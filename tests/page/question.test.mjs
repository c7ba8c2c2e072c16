// Questions in a racer's words: which part answers them and what is filled in; then five of them typed on the page.

import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { EXAMPLES, MORE_EXAMPLES, understand } from "../../www/question.js";
import { findViolations, kept, openDayOf, quiet, screenshot, settled, startSite, text } from "./harness.mjs";

const known = {
  rounds: [1, 2, 3, 4, 5, 6],
  parameters: ["cooler.ua", "cooler.fan_air_flow", "circulation.flow", "transmission.pan_volume", "converter.k_factor", "air.temperature"],
};
const cases = [
  ["what if i shut down with the pump on", "compare", { ways: ["pan_loop", "through_converter"] }],
  ["Can I just let it idle?", "compare", { ways: ["idle"] }],
  ["What if we shut off after round 3?", "compare", { ways: ["nothing"], round: 3 }],
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
  ["should we run the pump", "compare", { ways: ["pan_loop", "through_converter"] }],
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
  ["what is the difference between pan loop and cooler first", "plan", { route: "any" }], ["do I need the pump", "compare", { ways: ["pan_loop", "through_converter"] }],
  ["should I run the fan", "compare", { ways: ["fan"] }], ["should I shut it off", "compare", { ways: ["nothing"] }], ["after round 3 what", "plan", { round: 3 }],
  ["is my cooler big enough", "size", { find: "cooler" }], ["how big a cooler", "size", { find: "cooler" }],
  ["how long can I hold the brake", "size", { find: "hold" }], ["how long on the two-step", "size", { find: "hold" }],
  ["why is it hot", "heat", {}], ["shut down with the pump on", "compare", { ways: ["pan_loop", "through_converter"] }], ["engine off fan on", "compare", { ways: ["fan"] }],
  ["pan 85 °C, call in 12,5 min", "plan", { minutes: "12.5", pan: "85 °C" }], ["THEY CAL US IN 8 MINUTS AFTER ROUND 5", "plan", { round: 5, minutes: "8" }],
  ["wich coolr do i need", "size", { find: "cooler" }], ["how much does teh fna matter", "family", { path: "cooler.fan_air_flow" }],
  ["want the pan at 165 on the launch, now 210, 20 min", "plan", { minutes: "20", pan: "210", low: "163", high: "167" }],
  ["keep the pan under 180, which cooler", "size", { find: "cooler", launch: "180" }], ["8 qt pan vs 5 qt", "family", { path: "transmission.pan_volume", value: "8 qt" }, ["5 qt"]],
  ["how long to cool from 220 to 160", "plan", { pan: "220", low: "158", high: "162" }], ["cool down 15 degrees", "plan", {}, ["15 degrees"]],
  ["run the fan for 10 minutes", "compare", { ways: ["fan"] }, ["10 minutes"]], ["round 9 call in 8", "plan", { minutes: "8" }, ["round 9"]],
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

// A number belongs to the word that stands by it: with a word of its own before it, what follows is that of the next number.
const belongs = [
  ["keep it between 155 and 165 call in 20 pan 190", "plan", { minutes: "20", pan: "190", low: "155", high: "165" }],
  ["call in 20 pan 190", "plan", { minutes: "20", pan: "190" }], ["in 30 pan 200", "plan", { minutes: "30", pan: "200" }],
  ["call in 10 pan 195", "plan", { minutes: "10", pan: "195" }], ["call in 12 pan 210", "plan", { minutes: "12", pan: "210" }],
  ["call in 10 pan is 195", "plan", { minutes: "10", pan: "195" }], ["pan 195 call in 10", "plan", { minutes: "10", pan: "195" }],
  ["call 20 pan 190", "plan", { minutes: "20", pan: "190" }], ["they want us in 15 and the pan says 205", "plan", { minutes: "15", pan: "205" }],
  ["call in 14 air 95 pan 198", "plan", { minutes: "14", pan: "198" }, ["95"]], ["got 12, trans at 210", "plan", { minutes: "12", pan: "210" }],
  ["pan 205 12 to go", "plan", { minutes: "12", pan: "205" }], ["in 18 converter 260", "plan", { minutes: "18", shell: "260" }],
  ["195 in the pan 20 till they call", "plan", { minutes: "20", pan: "195" }], ["call in 20 and 195 in the pan", "plan", { minutes: "20", pan: "195" }],
  ["195 pan 240 shell", "plan", { pan: "195", shell: "240" }], ["cool it 210 to 165 in 12 min", "plan", { minutes: "12", pan: "210", low: "163", high: "167" }],
  ["from 210 down to 160 call in 15", "plan", { minutes: "15", pan: "210", low: "158", high: "162" }],
  ["pan -195, call in 12", "plan", { minutes: "12", pan: "195" }], ["how long until the pan hits 165", "plan", { low: "163", high: "167" }],
  ["what do I need to do pan 195 call in 9", "plan", { minutes: "9", pan: "195" }], ["call in 22 gauge shows 204", "plan", { minutes: "22", pan: "204" }],
  ["window 155 to 165 call in 25 pan 200", "plan", { minutes: "25", pan: "200", low: "155", high: "165" }],
  ["launch between 150 and 160, reads 188, 16 minutes", "plan", { minutes: "16", pan: "188", low: "150", high: "160" }],
  ["called in 10 to 12, pan 190", "plan", { minutes: "10", pan: "190" }], ["pan is 200 and i want 165 in 15", "plan", { minutes: "15", pan: "200", low: "163", high: "167" }],
  ["call in 10, shell 230 pan 200", "plan", { minutes: "10", pan: "200", shell: "230" }], ["we go in 20 temp is 185", "plan", { minutes: "20", pan: "185" }],
  ["they call us in 20 we are at 185", "plan", { minutes: "20", pan: "185" }], ["after round 3 in 12 pan 200", "plan", { round: 3, minutes: "12", pan: "200" }],
  ["round 4 call in 9 pan 188 no fan", "plan", { round: 4, minutes: "9", pan: "188", fan: false }], ["keep launch under 165 call in 15", "plan", { minutes: "15", high: "165" }],
  ["want 160 to 170, 195 now, in 14", "plan", { minutes: "14", pan: "195", low: "160", high: "170" }],
  ["which fan in 95 air back in 12 min", "size", { find: "fan", minutes: "12", air: "95" }],
  ["longest I can hold before the converter hits 300", "size", { find: "hold", converter: "300" }],
  ["keep the converter under 300 how long can I hold", "size", { find: "hold", converter: "300" }], ["longest hold without passing 310 in the converter", "size", { find: "hold", converter: "310" }],
  ["how long can we stay on the brake before the pan goes over 180", "size", { find: "hold", launch: "180" }], ["300 max in the converter how long can i hold", "size", { find: "hold", converter: "300" }],
  ["how long can I hold the brake in round 3", "size", { find: "hold", hold_round: 3 }], ["how long can I hold after round 2", "size", { find: "hold", hold_round: 3 }],
  ["how long can I hold after round 6", "size", { find: "hold" }, ["round 6"]],
  ["which cooler keeps the pan under 170 in 12 min after round 3", "size", { find: "cooler", launch: "170" }, ["12 min", "round 3"]],
  ["what if it is -5 C out", "family", { path: "air.temperature", value: "-5 °C" }], ["what if it's minus 10 C outside", "family", { path: "air.temperature", value: "-10 °C" }],
  ["what if it's 20 below zero", "family", { path: "air.temperature", value: "-20" }], ["what if the air is -10 C", "family", { path: "air.temperature", value: "-10 °C" }],
  ["max hold time under 290 in the converter", "size", { find: "hold", converter: "290" }], ["is 10 min enough to cool from 205", "plan", { minutes: "10", pan: "205" }],
  ["call at 20 pan 190", "plan", { pan: "190" }, ["20"]], ["what if it is -40", "family", { path: "air.temperature", value: "-40" }],
  ["how long can I hold before the trans hits 200", "size", { find: "hold", launch: "200" }], ["10 min pan is at 185 after round 2", "plan", { round: 2, minutes: "10", pan: "185" }],
  // How long something runs is for the plan, which answers in minutes.
  ["how long do I need to run the pump after round 2", "plan", { round: 2 }], ["how long do we need to run the fan", "plan", {}],
  ["how long must I run the pump", "plan", {}], ["how long should I run the pump after round 2", "plan", { round: 2 }],
  ["how many minutes of pump do I need", "plan", {}], ["how long pump", "plan", {}], ["how many minutes on the fan after round 4", "plan", { round: 4 }],
  ["how much time do I run the pump", "plan", {}], ["how long to idle after round 1", "plan", { round: 1 }], ["how long do we leave the fan on", "plan", {}],
  ["how long does the pump have to be on", "plan", {}], ["how long should we hold the brake", "size", { find: "hold" }],
];

test("a number belongs to the word beside it; how long something runs is planned", () => {
  for (const [typed, part, asks, unused = []] of belongs) {
    const found = understand(typed, known);
    assert.deepEqual([found?.part, found?.asks, found?.unused], [part, asks, unused], typed);
  }
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
  // The rows that were asked about are named, with where they come to.
  assert.match(await text(page, "#every-says"), /Pump through the converter, fan on: .*the window/);
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

/** The plan is of what is asked now. */
const planned = (page) => page.waitForFunction(() => !document.querySelector(".plan-answer.old") && (document.querySelector("#plan-says")?.textContent || document.querySelector("#plan-refused")?.textContent));
const plan = (page, key) => page.locator(`[data-plan=${key}]`);
const choices = (page) => page.locator("#what-if-plan select");
async function askPlan(page, typed) {
  await ask(page, typed);
  await page.waitForTimeout(150);
  await planned(page);
  await settled(page);
}

test("after the whole day, a call and a reading are those of one rest", async () => {
  const { page, log, close } = await openDayOf(site);
  await askPlan(page, "How do I get every round the same?");
  await until(page, "#plan-says", /apart instead of/);
  await planned(page);
  await askPlan(page, "pan reads 195 and they call in 10");
  assert.equal(await text(page, "#ask-said"), "Answered below by the plan between rounds: called in 10 min, the pan reads 195, in the rest before the last launch.");
  assert.equal(await choices(page).first().inputValue(), "5");
  assert.equal(await plan(page, "minutes").inputValue(), "10");
  await until(page, "#plan-cautions", /You read 195\s°F/);
  assert.match(await text(page, "#plan-says"), /comes to the line|Nothing that may be used/);
  // A round that no launch follows is answered by no other.
  await askPlan(page, "after round 6 the pan reads 200 and they call in 9");
  assert.match(await text(page, "#plan-refused"), /^This round has no rest before a launch to plan\. Choose one under After: .*after round 5/);
  assert.equal(await text(page, "#plan-says"), "");
  await choices(page).first().selectOption("5");
  await until(page, "#plan-says", /comes to the line|Nothing that may be used/);
  assert.equal(await text(page, "#plan-refused"), "");
  quiet(log);
  await close();
});

test("what was set by hand stays from question to question, what a question stated does not; all that is used is named", async () => {
  const { page, log, close } = await openDayOf(site);
  await page.locator("#what-if-plan > summary").click();
  await until(page, "#plan-says", /./);
  await choices(page).nth(1).selectOption("none");
  await plan(page, "idle").uncheck();
  await askPlan(page, "call in 9, pan 200, I want to leave at 165");
  assert.equal(await choices(page).nth(1).inputValue(), "none");
  assert.equal(await plan(page, "idle").isChecked(), false);
  assert.equal(await plan(page, "high").inputValue(), "167");
  assert.equal(await text(page, "#ask-said"), "Answered below by the plan between rounds: called in 9 min, the pan reads 200, wanted at the launch: 163 to 167, in the rest before the last launch, no pump, as set below, no idling, as set below.");
  // The next question wants nothing: the day's window.
  await askPlan(page, "call in 9, pan 200, no fan");
  assert.deepEqual([await plan(page, "low").inputValue(), await plan(page, "high").inputValue()], ["150", "170"]);
  assert.equal(await plan(page, "fan").isChecked(), false);
  // A range typed by hand stays, over a question with its own, too; the fan is allowed again.
  await plan(page, "low").fill("155");
  await plan(page, "low").press("Enter");
  await askPlan(page, "get it down to 160 in 15");
  assert.deepEqual([await plan(page, "low").inputValue(), await plan(page, "high").inputValue()], ["158", "162"]);
  await page.reload();
  await page.locator("#what-if-plan[open]").waitFor();
  await planned(page);
  await askPlan(page, "call in 9, pan 200");
  assert.deepEqual([await plan(page, "low").inputValue(), await plan(page, "high").inputValue()], ["155", "170"]);
  assert.equal(await plan(page, "fan").isChecked(), true);
  assert.equal(await choices(page).nth(1).inputValue(), "none");
  assert.match(await text(page, "#ask-said"), /wanted at the launch, as typed below: from 155/);
  quiet(log);
  await close();
});

test("the longest hold of one round is found for that round and put into it alone", async () => {
  const { page, log, close } = await openDayOf(site);
  await ask(page, "how long can I hold the brake in round 3");
  await until(page, "#size-says", /on the brake in round 3/);
  assert.match(await text(page, "#ask-said"), /longest hold, only the hold of round 3, no launch above the window\.$/);
  await page.locator("#size-use").waitFor({ state: "visible", timeout: 60_000 });
  const [, value] = (await text(page, "#size-use")).match(/^Use ([\d.]+ s) in round 3$/);
  await page.locator("#size-use").click();
  await settled(page);
  await page.waitForTimeout(1300);
  const { scenario } = await kept(page);
  const pattern = scenario.timeline[3];
  assert.equal(pattern.events.find(({ event }) => event === "brake_hold").duration, "2.5 s");
  assert.deepEqual(pattern.rounds, ["60 min", "48 min", { turnaround: "36 min", change: { brake_hold: { duration: value } } }, "26 min", "18 min", "12 min"]);
  await page.locator("#undo").click();
  await settled(page);
  // Of three aims one is used, and the others are named.
  await ask(page, "which cooler keeps the pan under 170 in 12 min after round 3");
  assert.match(await text(page, "#ask-said"), /cooler, pan at most 170 at the launch\. Not used: 12 min, round 3\.$/);
  quiet(log);
  await close();
});
