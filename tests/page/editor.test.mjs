// The day as blocks: dragged with a mouse, with a finger, moved by keys and changed by taps alone. One gesture is
// one entry of undo, and what cannot be is refused with a reason.

import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { after, before, test } from "node:test";
import { findViolations, kept, openDayOf, quiet, root, settled, startSite, text, type } from "./harness.mjs";

let site;
before(async () => (site = await startSite()));
after(() => site?.close());

const phone = { width: 360, height: 720, hasTouch: true, isMobile: true, deviceScaleFactor: 2 };
const openDay = (options) => openDayOf(site, options);
const example = JSON.parse(readFileSync(join(root, "scenarios/saturday_bracket_day.json"), "utf8"));
/** The timeline as this browser keeps it; nothing is kept before the first change. */
const timeline = async (page) => ((await kept(page))?.scenario ?? example).timeline;
const block = (page, kind, lane = "car") => page.locator(`#lane-${lane} .block[data-event="${kind}"]`);
const says = (page) => text(page, ".lanes-says");
const undoLabel = (page) => page.locator("#undo").getAttribute("aria-label");
/** Entries of undo; they are kept a little after a change. */
async function undoCount(page) {
  await page.waitForTimeout(1300);
  return page.evaluate(() => JSON.parse(localStorage.getItem("stallheat.history.1"))?.past.length ?? 0);
}
const showRound = async (page, round) => {
  await page.getByRole("button", { name: `R${round}: round ${round}` }).click();
  await settled(page);
};
const boxOf = async (locator) => {
  const { x, y, width, height } = await locator.boundingBox();
  return { left: x, right: x + width, width, middle: x + width / 2, y: y + height / 2 };
};

/** A drag with the mouse in small steps; `looks(page)` runs before the button is let go. */
async function drag(page, from, to, y, looks = null) {
  await page.mouse.move(from, y);
  await page.mouse.down();
  for (let part = 1; part <= 8; part += 1) {
    await page.mouse.move(from + ((to - from) * part) / 8, y);
    await settled(page);
  }
  const seen = looks ? await looks() : null;
  await page.mouse.up();
  await settled(page);
  return seen;
}

const seconds = (written) => {
  const [, number, unit] = String(written).match(/^([\d.]+) (s|min|h)$/);
  return Number(number) * { s: 1, min: 60, h: 3600 }[unit];
};

test("a block's edge is dragged with the mouse: the edge stays under it, the answer follows, one undo takes it back", async () => {
  const { page, log, close } = await openDay();
  await showRound(page, 2);
  await page.locator("#lanes").scrollIntoViewIfNeeded();
  const hold = await boxOf(block(page, "brake_hold"));
  const peak = await text(page, "#key-peak");
  const before = await timeline(page);
  const to = hold.right + 26;
  const seen = await drag(page, hold.right - 1, to, hold.y, async () => [await boxOf(block(page, "brake_hold")), await says(page)]);
  assert.ok(Math.abs(seen[0].right - to) < 6, `the edge is ${(seen[0].right - to).toFixed(1)} px from the mouse`);
  assert.match(seen[1], /^Held on the brake: [\d.]+ s, in each of 6 rounds$/);
  const written = (await timeline(page))[3].events[3].duration;
  assert.ok(seconds(written) > 3.5, written);
  assert.equal(seconds(written) % 0.5, 0, "snapped to half seconds");
  assert.notEqual(await text(page, "#key-peak"), peak);
  assert.equal(await undoCount(page), 1);
  assert.match(await undoLabel(page), /^Undo: Held on the brake: duration$/);
  await page.keyboard.press("Control+z");
  await settled(page);
  assert.deepEqual(await timeline(page), before);
  assert.equal(await text(page, "#key-peak"), peak);
  quiet(log);
  await close();
});

test("with Alt a drag does not snap, and the rest of a turnaround is dragged for its round alone", async () => {
  const { page, log, close } = await openDay();
  await showRound(page, 2);
  await page.locator("#lanes").scrollIntoViewIfNeeded();
  const hold = await boxOf(block(page, "brake_hold"));
  await page.keyboard.down("Alt");
  await drag(page, hold.right - 1, hold.right + 9, hold.y);
  await page.keyboard.up("Alt");
  const free = seconds((await timeline(page))[3].events[3].duration);
  assert.ok(free > 2.5 && Math.abs(free * 2 - Math.round(free * 2)) > 1e-6, `${free} s is no half second`);
  const pits = await boxOf(block(page, "engine_off"));
  await drag(page, pits.right - 2, pits.right - 60, pits.y);
  const { rounds } = (await timeline(page))[3];
  assert.deepEqual(rounds.filter((_, at) => at !== 1), ["60 min", "36 min", "26 min", "18 min", "12 min"]);
  assert.ok(seconds(rounds[1]) < 48 * 60 - 60, rounds[1]);
  assert.match(await undoLabel(page), /Turnaround of round 2/);
  quiet(log);
  await close();
});

test("a block is dragged to another place, and a mark shows where it would come to lie", async () => {
  const { page, log, close } = await openDay();
  await page.locator("#lanes").scrollIntoViewIfNeeded();
  const wait = await boxOf(block(page, "engine_off").nth(1));
  const warmUp = await boxOf(block(page, "idle").first());
  const seen = await drag(page, wait.middle, warmUp.left + 2, wait.y, async () => [await page.locator(".caret").isVisible(), await says(page)]);
  assert.deepEqual(seen, [true, "Wait for the call comes after Unload and tech"]);
  assert.deepEqual((await timeline(page)).slice(0, 3).map(({ name }) => name), ["Unload and tech", "Wait for the call", "Warm-up"]);
  assert.equal(await undoCount(page), 1);
  assert.equal(await page.locator("#lane-car .block.chosen").count(), 1);
  assert.match(await page.locator("#lane-car .block.chosen").getAttribute("aria-label"), /^Wait for the call/);
  quiet(log);
  await close();
});

test("what cannot be is refused with its reason, and nothing changes", async () => {
  const { page, log, close } = await openDay();
  await showRound(page, 1);
  await page.locator("#lanes").scrollIntoViewIfNeeded();
  const before = await timeline(page);
  const pass = await boxOf(block(page, "pass"));
  await drag(page, pass.right - 1, pass.right + 40, pass.y);
  assert.match(await says(page), /ends at the finish, as computed/);
  assert.deepEqual(await timeline(page), before);
  // Longer than the shortest turnaround: the core's own words stand by the blocks.
  await block(page, "return_road").click();
  await type(page, page.locator("#sheet .event .number").first(), "3 min");
  await page.keyboard.press("Control+z");
  const road = await boxOf(block(page, "return_road"));
  await drag(page, road.right - 1, road.right + 300, road.y);
  assert.match(await says(page), /^Return road: .* and no longer\. Not done: Turnaround of round 1/);
  assert.equal(await page.locator("#problem").isVisible(), false, "what is shown is computed");
  const now = seconds((await timeline(page))[3].events[6].duration);
  assert.ok(now < 12 * 60, `${now} s still fits the shortest turnaround`);
  quiet(log);
  await close();
});

test("an empty part of a lane is dragged over to switch the pump on; its edges and Delete change and remove that", async () => {
  const { page, log, close } = await openDay();
  await page.locator("#lanes").scrollIntoViewIfNeeded();
  const unload = await boxOf(block(page, "engine_off").first());
  const lane = await boxOf(page.locator("#lane-circulation"));
  await drag(page, unload.left + 4, unload.left + 20, lane.y);
  const [{ circulation: first }] = await timeline(page);
  assert.equal(first.length, 1);
  assert.equal(first[0].route, "through_converter");
  assert.equal(await undoCount(page), 1);
  const on = await boxOf(block(page, "through_converter", "circulation").first());
  await drag(page, on.right - 1, on.right + 5, on.y);
  const [{ circulation: longer }] = await timeline(page);
  assert.ok(seconds(longer[0].duration) > seconds(first[0].duration), `${first[0].duration} and ${longer[0].duration}`);
  await page.locator("#lane-circulation").focus();
  await page.keyboard.press("Control+ArrowRight");
  await settled(page);
  const [{ circulation: moved }] = await timeline(page);
  assert.ok(seconds(moved[0].start) > seconds(longer[0].start ?? "0 s"));
  assert.equal(seconds(moved[0].duration), seconds(longer[0].duration));
  await page.keyboard.press("Delete");
  await settled(page);
  assert.equal((await timeline(page))[0].circulation, undefined);
  quiet(log);
  await close();
});

test("a day is changed with keys alone: choose, lengthen, move, double, copy, add, remove, undo", async () => {
  const { page, log, close } = await openDay();
  await page.locator("#lane-car").focus();
  await page.keyboard.press("Home");
  await page.keyboard.press("ArrowRight");
  await settled(page);
  const active = () => page.evaluate(() => document.getElementById(document.activeElement.getAttribute("aria-activedescendant"))?.getAttribute("aria-label"));
  assert.match(await active(), /^Warm-up, 1:30:00/);
  await page.keyboard.press("Shift+ArrowRight");
  await page.keyboard.press("Shift+ArrowRight");
  await settled(page);
  assert.equal((await timeline(page))[1].duration, "7 min", "two steps of 30 s");
  assert.equal(await undoCount(page), 1, "keys in a row are one entry");
  await page.keyboard.press("Control+Shift+ArrowRight");
  await settled(page);
  assert.equal((await timeline(page))[1].duration, "12 min", "ten steps at once");
  await page.keyboard.press("Control+ArrowRight");
  await settled(page);
  assert.deepEqual((await timeline(page)).slice(1, 3).map(({ name }) => name), ["Wait for the call", "Warm-up"]);
  assert.match(await active(), /^Warm-up/);
  await page.keyboard.press("Control+d");
  await settled(page);
  assert.deepEqual((await timeline(page)).slice(1, 4).map(({ name }) => name), ["Wait for the call", "Warm-up", "Warm-up"]);
  await page.keyboard.press("Delete");
  await settled(page);
  await page.keyboard.press("Home");
  await page.keyboard.press("Control+c");
  await page.keyboard.press("End");
  await page.keyboard.press("Control+v");
  await settled(page);
  assert.deepEqual((await timeline(page)).map(({ name }) => name ?? "rounds"), ["Unload and tech", "Wait for the call", "Warm-up", "rounds", "Load up", "Unload and tech"]);
  await page.keyboard.press("Enter");
  await settled(page);
  assert.ok(await page.evaluate(() => document.querySelector("#sheet").contains(document.activeElement)), "Enter goes on in the sheet");
  await page.keyboard.type("20 min");
  await page.keyboard.press("Enter");
  await settled(page);
  assert.equal((await timeline(page)).at(-1).duration, "20 min");
  for (let undone = await undoCount(page); undone > 0; undone -= 1) {

    await page.locator("#undo").focus();
    await page.keyboard.press("Enter");
    await settled(page);
  }
  assert.deepEqual((await timeline(page)).map(({ name, duration }) => [name, duration]).slice(0, 3), [["Unload and tech", "90 min"], ["Warm-up", "6 min"], ["Wait for the call", "24 min"]]);
  quiet(log);
  await close();
});

test("a day is changed by taps alone on a phone: length, pump, an event more, a round alone, rounds made of events", async () => {
  const { page, log, close } = await openDay(phone);
  const tap = async (locator) => {
    await locator.scrollIntoViewIfNeeded();
    await locator.tap();
    await settled(page);
  };
  const inSheet = (name) => page.locator("#sheet").getByRole("button", { name, exact: true });
  await tap(page.getByRole("button", { name: "R3: round 3" }));
  await tap(block(page, "brake_hold"));
  assert.match(await text(page, ".sheet-where"), /^Round 3 · /);
  await tap(inSheet("Held on the brake: more"));
  assert.equal((await timeline(page))[3].events[3].duration, "3 s");
  await tap(inSheet("Change this round alone: round 3"));
  const split = await timeline(page);
  assert.deepEqual(split.slice(3, 6).map(({ rounds }) => rounds.length), [2, 1, 3]);
  await tap(inSheet("Held on the brake: more"));
  const alone = await timeline(page);
  assert.deepEqual(alone.slice(3, 6).map(({ events }) => events[3].duration), ["3 s", "3.5 s", "3 s"]);
  assert.equal(await page.locator("#launch-rows tr").count(), 6);
  await tap(inSheet("Turnaround of round 3: less"));
  assert.equal((await timeline(page))[4].rounds[0], "35 min");
  await tap(inSheet("Add a round like it: round 3"));
  assert.equal(await page.locator("#launch-rows tr").count(), 7);
  await tap(inSheet("Remove this round: round 3"));
  assert.equal(await page.locator("#launch-rows tr").count(), 6);
  await page.locator("#sheet .adder select").selectOption("idle");
  await tap(inSheet("Add it after"));
  const more = await timeline(page);
  assert.deepEqual(more.slice(3, 6).map(({ events }) => events.length), [8, 9, 8]);
  await page.locator('#sheet select[data-field$=".fan"]').selectOption("on");
  await settled(page);
  assert.equal((await timeline(page))[4].events[4].fan, "on");

  await tap(page.getByRole("button", { name: "Day, all of it" }));
  await tap(block(page, "engine_off").first());
  await tap(page.locator("#sheet .repeat summary"));
  await page.getByLabel("Last event of the round").selectOption({ label: "3. Wait for the call" });
  await page.getByLabel("Turnaround of each round, with its unit").fill("130 min");
  await tap(inSheet("One round less"));
  await tap(page.locator("#sheet").getByRole("button", { name: "Make the rounds" }));
  const [made] = await timeline(page);
  assert.deepEqual(made.rounds, ["130 min", "130 min"]);
  assert.equal(made.events.length, 3);
  await tap(page.locator("#undo"));
  assert.equal((await timeline(page))[0].name, "Unload and tech");
  quiet(log);
  await close();
});

/** Touches of a finger by the browser's own protocol. */
async function finger(page, points, end = "touchEnd") {
  const session = await page.context().newCDPSession(page);
  const send = (kind, touchPoints) => session.send("Input.dispatchTouchEvent", { type: kind, touchPoints });
  await send("touchStart", [points[0]]);
  for (const point of points.slice(1)) {
    await send("touchMove", [point]);
    await settled(page);
  }
  await send(end, []);
  await settled(page);
  await session.detach();
}
const line = (from, to, count = 10) =>
  Array.from({ length: count + 1 }, (_, at) => ({ x: from.x + ((to.x - from.x) * at) / count, y: from.y + ((to.y - from.y) * at) / count }));

test("a finger drags the edge of the chosen block, scrolls the page along the lanes, and what is broken off is taken back", async () => {
  const { page, log, close } = await openDay(phone);
  await page.getByRole("button", { name: "R3: round 3" }).tap();
  await page.evaluate(() => document.querySelector("#lanes").scrollIntoView({ block: "center" }));
  await settled(page);
  await block(page, "brake_hold").tap();
  await settled(page);
  const before = await timeline(page);
  const hold = await boxOf(block(page, "brake_hold"));
  const edge = { x: hold.right, y: hold.y };
  await finger(page, line(edge, { x: edge.x + 30, y: edge.y }));
  const after = (await timeline(page))[3].events[3].duration;
  assert.ok(seconds(after) > 3.5, after);
  assert.equal(await undoCount(page), 1);
  await page.locator("#undo").tap();
  await settled(page);
  assert.deepEqual(await timeline(page), before);

  const again = await boxOf(block(page, "brake_hold"));
  await finger(page, line({ x: again.right, y: again.y }, { x: again.right + 30, y: again.y }), "touchCancel");
  assert.deepEqual(await timeline(page), before, "a drag that is broken off is taken back");
  assert.equal(await undoCount(page), 0);

  const top = await page.evaluate(() => scrollY);
  const { y } = await boxOf(page.locator("#lane-car"));
  await finger(page, line({ x: 200, y }, { x: 200, y: y - 200 }));
  await page.waitForFunction((from) => scrollY > from + 50, top);
  assert.deepEqual(await timeline(page), before, "an upright swipe changes nothing");
  quiet(log);
  await close();
});

test("a tap beside the chosen block chooses what lies there, though a finger could take hold of the edge", async () => {
  const { page, log, close } = await openDay(phone);
  await page.evaluate(() => document.querySelector("#lanes").scrollIntoView({ block: "center" }));
  const chosen = () => page.locator("#lane-car .block.chosen").first().getAttribute("data-event", { timeout: 5_000 });
  const round = page.locator('#lane-car .block[data-event="engine_off"]').nth(2);
  const parked = await boxOf(round);
  const lane = await page.locator("#lane-car").boundingBox();
  await page.touchscreen.tap(parked.middle, parked.y);
  await settled(page);
  assert.equal(await chosen(), "engine_off");
  // The next four blocks are three to five pixels wide, all within reach of the edge.
  const found = new Set();
  for (const away of [4, 8, 12, 16, 20]) {
    await page.touchscreen.tap(parked.middle, parked.y);
    await settled(page);
    await page.touchscreen.tap(parked.right + away, lane.y + lane.height / 2);
    await settled(page);
    found.add(await chosen());
  }
  assert.ok(!found.has("engine_off") && found.size >= 3, [...found].join());
  quiet(log);
  await close();
});

test("why a typed number cannot be computed is read where it was typed, also if the fault shows elsewhere", async () => {
  const { page, log, close } = await openDay(phone);
  await page.getByRole("button", { name: "R3: round 3" }).tap();
  await block(page, "brake_hold").tap();
  await settled(page);
  const typed = page.locator("#sheet input.number").first();
  for (const [written, why] of [["banana", /needs a time/], ["9999", /Turnaround of round 1.+Give the round more time/]]) {
    await typed.fill(written);
    await typed.press("Enter");
    await settled(page);
    const said = page.locator("#sheet .event > .field-error");
    assert.match(await said.textContent(), why);
    const [from, to] = [await typed.boundingBox(), await said.boundingBox()];
    assert.ok(to.y > from.y && to.y - from.y < 80, `${to.y - from.y} px below`);
  }
  quiet(log);
  await close();
});

/** Opens the example with a change, as a file. */
async function give(page, edit) {
  const day = structuredClone(example);
  edit(day);
  day.name = "Given";
  await page.locator("#file").setInputFiles({ name: "given.json", mimeType: "application/json", buffer: Buffer.from(JSON.stringify(day)) });
  await page.waitForFunction(() => document.querySelector("#day-name").textContent === "Given");
  await settled(page);
}

test("what a round has of its own is not changed through the others, and comes along when the round is taken alone", async () => {
  const { page, log, close } = await openDay();
  await give(page, ({ timeline: [, , , pattern] }) => {
    pattern.rounds[1] = { turnaround: "48 min", change: { brake_hold: { duration: "5 s" }, engine_off: { circulation: "pan_loop", fan: "off" } } };
  });
  const before = await timeline(page);
  await showRound(page, 2);
  await block(page, "brake_hold").click();
  assert.match(await text(page, "#sheet .own"), /Round 2 has this event of its own/);
  await page.locator("#lane-car").focus();
  await page.keyboard.press("Shift+ArrowRight");
  await settled(page);
  assert.match(await says(page), /first take .Change this round alone/);
  await page.locator("#lane-circulation").focus();
  await page.keyboard.press("Home");
  await page.keyboard.press("ArrowRight");
  await page.keyboard.press("Delete");
  await settled(page);
  assert.match(await says(page), /Round 2 has this event of its own/);
  assert.deepEqual(await timeline(page), before);
  await showRound(page, 2);
  await block(page, "brake_hold").click();
  await page.getByRole("button", { name: "Change this round alone: round 2" }).click();
  await settled(page);
  const [, , , first, alone, others] = await timeline(page);
  assert.deepEqual([first.rounds.length, alone.rounds, others.rounds.length], [1, ["48 min"], 4]);
  assert.equal(alone.events[3].duration, "5 s");
  assert.deepEqual([alone.events[7].circulation, alone.events[7].fan], ["pan_loop", "off"]);
  assert.equal(first.events[3].duration, "2.5 s");
  await page.locator("#lane-car").focus();
  await page.keyboard.press("Shift+ArrowRight");
  await settled(page);
  assert.equal((await timeline(page))[4].events[3].duration, "5.5 s");
  assert.equal((await timeline(page))[5].events[3].duration, "2.5 s");
  quiet(log);
  await close();
});

test("undo finds the chosen event again and never leaves another one chosen", async () => {
  const { page, log, close } = await openDay();
  const chosen = () => page.locator("#lane-car .block.chosen").evaluateAll((all) => all.map((one) => one.getAttribute("aria-label").split(",")[0]));
  await block(page, "engine_off").nth(1).click();
  await page.keyboard.press("Escape");
  await page.locator("#lane-car").focus();
  await page.keyboard.press("Home");
  await page.keyboard.press("ArrowRight");
  await page.keyboard.press("ArrowRight");
  await page.keyboard.press("Control+ArrowLeft");
  await settled(page);
  assert.deepEqual(await chosen(), ["Wait for the call"]);
  await page.keyboard.press("Control+z");
  await settled(page);
  assert.deepEqual(await chosen(), ["Wait for the call"]);
  await page.keyboard.press("Control+d");
  await page.keyboard.press("Control+z");
  await settled(page);
  for (const name of await chosen()) assert.equal(name, "Wait for the call");
  quiet(log);
  await close();
});

test("an on-time to the end of its event stays so when its start is moved, one that waits for a temperature has no end to drag", async () => {
  const { page, log, close } = await openDay();
  await give(page, ({ timeline: [unload, , wait] }) => {
    unload.fan = "on";
    wait.circulation = [{ route: "pan_loop", until: { node: "pan_fluid", at_or_below: "95 °F" } }];
  });
  await page.locator("#lanes").scrollIntoViewIfNeeded();
  const fan = await boxOf(block(page, "fan", "fan").first());
  await drag(page, fan.left + 1, fan.left + 12, fan.y);
  const [{ fan: [moved] }] = await timeline(page);
  assert.deepEqual(Object.keys(moved), ["start"]);
  await page.locator("#lane-circulation").focus();
  await page.keyboard.press("Home");
  await page.keyboard.press("Shift+ArrowRight");
  await settled(page);
  assert.match(await says(page), /on until a temperature/);
  assert.deepEqual(Object.keys((await timeline(page))[2].circulation[0]), ["route", "until"]);
  quiet(log);
  await close();
});

test("a switch cannot be put on for a part of a computed pass, and the page says so", async () => {
  const { page, log, close } = await openDay();
  await showRound(page, 1);
  await page.locator("#lanes").scrollIntoViewIfNeeded();
  const pass = await boxOf(block(page, "pass"));
  const lane = await boxOf(page.locator("#lane-fan"));
  const before = await timeline(page);
  await drag(page, pass.left + 4, pass.right - 4, lane.y);
  assert.match(await says(page), /computed pass pump and fan are on or off for all of it/);
  assert.deepEqual(await timeline(page), before);
  quiet(log);
  await close();
});

test("a swipe that scrolls the page changes no slider and moves no cursor", async () => {
  const { page, log, close } = await openDay(phone);
  const swipe = async (locator, part) => {
    await locator.evaluate((node) => node.scrollIntoView({ block: "center" }));
    await settled(page);
    const { x, y, width, height } = await locator.boundingBox();
    const from = { x: x + width * part, y: y + height / 2 };
    const top = await page.evaluate(() => scrollY);
    await finger(page, line(from, { x: from.x, y: from.y - 180 }));
    await page.waitForFunction((was) => scrollY > was + 40, top);
    await settled(page);
  };
  const before = [await text(page, "#key-peak"), await text(page, ".moment")];
  await swipe(page.locator(".control[data-path='air.temperature'] input[type=range]"), 0.3);
  await swipe(page.locator("#cursor"), 0.3);
  assert.deepEqual([await text(page, "#key-peak"), await text(page, ".moment")], before);
  assert.equal(await undoCount(page), 0);
  quiet(log);
  await close();
});

test("the button under a finger stays there from tap to tap", async () => {
  const { page, log, close } = await openDay(phone);
  await page.getByRole("button", { name: "R1: round 1" }).tap();
  await settled(page);
  await block(page, "burnout").tap();
  await settled(page);
  const later = page.locator("#sheet").getByRole("button", { name: "Later: Burnout" });
  await later.evaluate((node) => node.scrollIntoView({ block: "center" }));
  const { x, y, width, height } = await later.boundingBox();
  for (let taps = 0; taps < 3; taps += 1) {
    await page.touchscreen.tap(x + width / 2, y + height / 2);
    await settled(page);
  }
  assert.equal((await timeline(page))[3].events[4].event, "burnout");
  quiet(log);
  await close();
});

test("Ctrl and the wheel zoom from the day to ten seconds and back; a bare wheel scrolls the page", async () => {
  const { page, log, close } = await openDay();
  await page.evaluate(() => document.querySelector("#chart").scrollIntoView({ block: "center" }));
  await settled(page);
  const pass = await boxOf(block(page, "pass").first());
  const chart = await boxOf(page.locator("#chart"));
  await page.mouse.move(pass.middle, chart.y);
  await page.keyboard.down("Control");
  for (let turn = 0; turn < 16; turn += 1) {
    await page.mouse.wheel(0, -400);
    await settled(page);
  }
  const shown = await page.locator("#lane-car .block").evaluateAll((all) => all.map((one) => one.dataset.event));
  assert.ok(shown.includes("pass") && shown.length <= 2, shown.join());
  assert.ok((await boxOf(block(page, "pass"))).width > 300);
  for (let turn = 0; turn < 20; turn += 1) {
    await page.mouse.wheel(0, 400);
    await settled(page);
  }
  await page.keyboard.up("Control");
  assert.equal(await page.locator("#lane-car .block").count(), 3 + 6 * 8 + 1);
  assert.equal(await page.getByRole("button", { name: "Day, all of it" }).getAttribute("aria-pressed"), "true");
  const top = await page.evaluate(() => scrollY);
  await page.mouse.wheel(0, 200);
  await page.waitForFunction((from) => scrollY > from, top);
  assert.equal(await page.getByRole("button", { name: "Day, all of it" }).getAttribute("aria-pressed"), "true");
  quiet(log);
  await close();
});

test("events have room on the axis, or every second is as wide as any other", async () => {
  const { page, log, close } = await openDay();
  const widths = () => page.locator("#lane-car .block").evaluateAll((all) => all.map((one) => one.getBoundingClientRect().width));
  const room = await widths();
  assert.ok(Math.min(...room) >= 5, `${Math.min(...room)} px`);
  const { hash } = new URL(page.url());
  await page.getByRole("button", { name: /^True time/ }).click();
  await settled(page);
  const even = await widths();
  // 90 minutes of unloading against 60 of loading.
  assert.ok(Math.abs(even[0] / even.at(-1) - 1.5) < 0.02, `${even[0]} and ${even.at(-1)}`);
  assert.ok(Math.min(...even) >= 2.9);
  await page.waitForFunction((before) => location.hash && location.hash !== before, hash);
  await page.waitForLoadState("networkidle");
  await page.reload();
  await page.waitForFunction(() => document.querySelector("#version")?.textContent);
  assert.equal(await page.getByRole("button", { name: /^True time/ }).getAttribute("aria-pressed"), "true");
  quiet(log);
  await close();
});

test("hold, pass and soak of a round stand as cards, in any order, and show their part", async () => {
  const { page, log, close } = await openDay();
  const card = (stage) => page.locator(`.stage[data-stage=${stage}]`);
  const shown = () => page.locator("#lane-car .block").evaluateAll((all) => all.map((one) => one.dataset.event));
  for (const [stage, first, last] of [["soak", "slow_down", "engine_off"], ["hold", "brake_hold", "brake_hold"], ["pass", "pass", "pass"]]) {
    await card(stage).click();
    await settled(page);
    const events = await shown();
    assert.deepEqual([events[0], events.at(-1)], [first, last], stage);
    assert.equal(await card(stage).getAttribute("aria-pressed"), "true");
  }
  // The large number is the difference of the two below it, in either unit.
  for (const units of ["us", "si"]) {
    await page.locator(`label[for=units-${units}]`).click();
    await settled(page);
    for (const stage of ["hold", "pass", "soak"]) {
      const [, shown, from, to] = (await card(stage).textContent()).match(/([+−±]\d+) °[FC](?:converter|pan): (\d+) to (\d+) in/);
      assert.equal(Number(shown.replace("−", "-").replace("±", "")), Number(to) - Number(from), `${stage}: ${shown}, ${from} to ${to}`);
    }
  }
  await card("soak").click();
  await settled(page);
  const [, round] = (await text(page, "#stages-title")).match(/Round (\d)/);
  assert.match(await text(page, "#chart-body .moment"), new RegExp(`round ${round} · Pits`), "the end of the soak is still the round's");
  const heading = await text(page, "#stages-title");
  await page.getByRole("button", { name: "Round before" }).click();
  await settled(page);
  assert.notEqual(await text(page, "#stages-title"), heading);
  quiet(log);
  await close();
});

test("an undo key while a block is dragged waits; a day that comes in between ends the drag", async () => {
  const { page, log, close } = await openDay();
  await showRound(page, 2);
  await page.locator("#lanes").scrollIntoViewIfNeeded();
  const road = await boxOf(block(page, "return_road"));
  await page.mouse.move(road.right - 1, road.y);
  await page.mouse.down();
  await page.mouse.move(road.right + 10, road.y, { steps: 4 });
  await settled(page);
  const longer = await timeline(page);
  assert.notDeepEqual(longer, example.timeline);
  await page.keyboard.press("Control+z");
  await settled(page);
  assert.deepEqual(await timeline(page), longer);
  await page.keyboard.press("Escape");
  await settled(page);
  assert.deepEqual(await timeline(page), example.timeline, "Escape breaks the drag off");
  await page.mouse.up();
  await page.mouse.move(road.right - 1, road.y);
  await page.mouse.down();
  await page.mouse.move(road.right + 10, road.y, { steps: 4 });
  await give(page, () => {});
  await page.mouse.move(road.right + 20, road.y, { steps: 4 });
  await page.mouse.up();
  await settled(page);
  assert.deepEqual(await timeline(page), example.timeline, "the day that came is not touched");
  assert.equal(await page.locator(".dragging").count(), 0);
  quiet(log);
  await close();
});

test("a day that is over at once is refused and nothing changes, a stage that is over at once is still drawn", async () => {
  const { page, log, close } = await openDay();
  const zero = { ...example, name: "Zero", timeline: [{ event: "engine_off", until: { node: "pan_fluid", at_or_below: "300 °F" }, at_most: "30 min" }] };
  await page.locator("#file").setInputFiles({ name: "zero.json", mimeType: "application/json", buffer: Buffer.from(JSON.stringify(zero)) });
  await page.waitForFunction(() => !document.querySelector("#problem").hidden);
  assert.match(await text(page, "#problem"), /zero\.json cannot be opened; your day is unchanged\..*over at once/s);
  assert.equal(await text(page, "#day-name"), example.name);
  assert.deepEqual(await timeline(page), example.timeline);
  await give(page, ({ timeline: [, , , { events }] }) => {
    events[3] = { event: "brake_hold", engine_speed: "4200 rpm", until: { node: "pan_fluid", at_or_below: "300 °F" }, at_most: "3 s" };
  });
  await page.locator(".stage[data-stage=hold]").click();
  await settled(page);
  assert.equal(await page.locator("#problem").isVisible(), false);
  assert.ok((await page.locator("#lane-car .block").count()) >= 2);
  quiet(log);
  await close();
});

test("a day without rounds has its buttons after a reload, too", async () => {
  const { page, log, close } = await openDay();
  await page.locator("#example").selectOption("dyno_bench_session");
  await settled(page);
  const buttons = () => page.locator(".ranges button").allTextContents();
  const before = await buttons();
  assert.deepEqual(before, ["Day", "−", "+", "True time"]);
  await page.waitForLoadState("networkidle");
  await page.reload();
  await page.waitForFunction(() => document.querySelector("#version")?.textContent);
  assert.deepEqual(await buttons(), before);
  quiet(log);
  await close();
});

for (const [width, colorScheme] of [[360, "light"], [360, "dark"], [1280, "light"], [1280, "dark"]]) {
  test(`axe finds nothing to mend at ${width} px, ${colorScheme}, with a block chosen and its sheet open`, async () => {
    const { page, close } = await openDay({ width, colorScheme });
    await showRound(page, 2);
    for (const kind of ["brake_hold", "engine_off"]) {
      await block(page, kind).click();
      await settled(page);
      assert.deepEqual(await findViolations(page), []);
    }
    await close();
  });
}

test("while another day stands in the lanes than is written, its blocks are looked at and nothing breaks", async () => {
  const { page, log, close } = await openDay();
  // A day with few events that cannot be computed, and by undo it stands behind the blocks of one with many.
  await page.locator("#example").selectOption("dyno_bench_session");
  await settled(page);
  await type(page, page.locator(".control[data-path=\"cooler.ua\"] input.number"), "-5 W/K");
  assert.ok(await page.locator("#problem").isVisible());
  await page.locator("#example").selectOption("saturday_bracket_day");
  await settled(page);
  await page.locator("#undo").click();
  await settled(page);
  assert.ok(await page.locator("#problem").isVisible());
  await page.locator("#lanes").scrollIntoViewIfNeeded();
  for (const lane of ["fan", "circulation", "car"]) {
    const { left, right, y } = await boxOf(page.locator(`#lane-${lane}`));
    for (let part = 0; part <= 80; part += 1) await page.mouse.move(left + ((right - left) * part) / 80, y);
    await drag(page, left + (right - left) * 0.6, left + (right - left) * 0.7, y);
    const last = await boxOf(page.locator(`#lane-${lane} .block`).last());
    await page.mouse.click(last.middle, last.y);
    await drag(page, last.right - 1, last.right - 20, last.y);
    await page.locator(`#lane-${lane}`).focus();
    for (const key of ["End", "ArrowRight", "Shift+ArrowRight", "Alt+ArrowRight", "Delete", "c", "v"]) await page.keyboard.press(key);
    await settled(page);
  }
  quiet(log);
  await close();
});
