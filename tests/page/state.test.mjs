// What the page remembers: undo and redo, the link, the work kept in the browser, files, typical cars, and
// what is left of all that after a fault of the core.

import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { after, before, test } from "node:test";
import { root, screenshot, startSite } from "./harness.mjs";

let site;
before(async () => (site = await startSite()));
after(() => site?.close());

const ready = (page) => page.waitForFunction(() => document.querySelector("#version")?.textContent);
async function openDay(options) {
  const opened = await site.open(options);
  await ready(opened.page);
  return opened;
}

const settled = (page) => page.evaluate(() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done))));
const text = (page, selector) => page.locator(selector).textContent();
const cells = (page) => page.locator("#launch-rows tr").evaluateAll((rows) => rows.map((row) => [...row.cells].map((cell) => cell.textContent)));
const kept = (page) => page.evaluate(() => JSON.parse(localStorage.getItem("stallheat.work.1")));
const control = (page, path) => page.locator(`.control[data-path="${path}"]`);
const slider = (page, path) => control(page, path).locator("input[type=range]");
const box = (page, path) => control(page, path).locator("input.number");
const quiet = (log) => assert.deepEqual([log.console, log.errors, log.failed], [[], [], []]);
const label = (page, id) => page.locator(`#${id}`).getAttribute("aria-label");

async function type(page, locator, value) {
  await locator.fill(value);
  await locator.press("Enter");
  await settled(page);
}

/** All that undo must bring back: the numbers shown, and the scenario as it is kept. */
async function everything(page) {
  await settled(page);
  const { scenario, baseline, source } = await kept(page) ?? {};
  return { cells: await cells(page), finding: await text(page, "#finding"), name: await text(page, "#day-name"), scenario, baseline, source };
}

async function undo(page) {
  await page.locator("#undo").click();
  await settled(page);
}
async function redo(page) {
  await page.locator("#redo").click();
  await settled(page);
}

test("undo and redo go through what was done, by buttons and by keys, and say what they did", async () => {
  const { page, log, close } = await openDay();
  assert.equal(await page.locator("#undo").isDisabled(), true, "nothing to undo at first");
  assert.equal(await page.locator("#redo").isDisabled(), true);
  await type(page, box(page, "cooler.ua"), "150");
  const first = await everything(page);
  await type(page, box(page, "air.temperature"), "101");
  const second = await everything(page);
  assert.notDeepEqual(second.cells, first.cells);

  assert.equal(await label(page, "undo"), "Undo: Air temperature");
  await undo(page);
  assert.deepEqual(await everything(page), first);
  assert.equal(await text(page, "#undone"), "Undone: Air temperature.");
  assert.equal(await box(page, "air.temperature").inputValue(), "88");
  assert.equal(await label(page, "redo"), "Redo: Air temperature");
  await redo(page);
  assert.deepEqual(await everything(page), second);
  assert.equal(await text(page, "#undone"), "Redone: Air temperature.");

  await page.locator("#day-name").click();
  for (const [keys, wanted] of [
    ["Control+z", first], ["Control+Shift+z", second], ["Control+z", first], ["Control+y", second], ["Meta+z", first], ["Meta+Shift+z", second],
  ]) {
    await page.keyboard.press(keys);
    assert.deepEqual(await everything(page), wanted, keys);
  }
  await undo(page);
  await undo(page);
  assert.equal(await page.locator("#undo").getAttribute("aria-disabled"), "true");
  assert.equal((await kept(page)).scenario.setup.cooler.ua, "110 W/K");
  await page.keyboard.press("Control+z");
  assert.equal((await kept(page)).scenario.setup.cooler.ua, "110 W/K", "there is nothing before the first");
  // A new change ends what could be redone.
  await type(page, box(page, "cooler.ua"), "130");
  assert.equal(await page.locator("#redo").getAttribute("aria-disabled"), "true");
  quiet(log);
  await close();
});

test("one drag of a slider is one entry, however many values it went through", async () => {
  const { page, log, close } = await openDay();
  const start = await page.evaluate(() => document.querySelector("#finding").textContent);
  const opened = await cells(page);
  await page.evaluate(() => {
    window.inputs = 0;
    document.addEventListener("input", () => (window.inputs += 1));
  });
  const drag = async (from, to) => {
    const rail = await slider(page, "cooler.ua").boundingBox();
    const y = rail.y + rail.height / 2;
    await page.mouse.move(rail.x + rail.width * from, y);
    await page.mouse.down();
    await page.mouse.move(rail.x + rail.width * to, y, { steps: 15 });
    await page.mouse.up();
    return everything(page);
  };
  const first = await drag(0.2, 0.5);
  const count = await page.evaluate(() => window.inputs);
  assert.ok(count > 5, `${count} values in one drag`);
  const second = await drag(0.5, 0.8);
  assert.notDeepEqual(second.cells, first.cells);
  await undo(page);
  assert.deepEqual(await everything(page), first);
  await undo(page);
  assert.deepEqual(await cells(page), opened);
  assert.equal(await text(page, "#finding"), start);
  assert.equal(await page.locator("#undo").getAttribute("aria-disabled"), "true", "two drags, two entries");
  quiet(log);
  await close();
});

test("typing in a box is one entry, keys in a row too, and the keys of undo leave half-typed text alone", async () => {
  const { page, log, close } = await openDay();
  const ua = async () => (await kept(page))?.scenario.setup.cooler.ua;
  await box(page, "cooler.ua").focus();
  await page.keyboard.press("Control+a");
  for (const key of "142") {
    await page.keyboard.press(key);
    await settled(page);
  }
  assert.equal(await ua(), "142 W/K");
  await page.keyboard.press("Control+z");
  await settled(page);
  assert.equal(await page.locator("#redo").isDisabled(), true, "the box undoes its own typing");
  assert.notEqual(await box(page, "cooler.ua").inputValue(), "142");
  await type(page, box(page, "cooler.ua"), "143");
  // The typing is done: now the keys undo the change, although the box has the focus.
  await page.keyboard.press("Control+z");
  await settled(page);
  assert.equal(await ua(), "110 W/K");
  assert.equal(await box(page, "cooler.ua").inputValue(), "110");

  await slider(page, "cooler.ua").focus();
  for (let i = 0; i < 4; i += 1) await page.keyboard.press("ArrowRight");
  await settled(page);
  assert.notEqual(await ua(), "110 W/K");
  await page.keyboard.press("Control+z");
  await settled(page);
  assert.equal(await ua(), "110 W/K", "four keys in a row are one entry");
  quiet(log);
  await close();
});

test("a button tapped again within a second goes on with its entry, and begins another one later", async () => {
  const { page, log, close } = await openDay();
  const more = page.getByRole("button", { name: "Warm-up: more" });
  const warmUp = async () => (await kept(page)).scenario.timeline[1].duration;
  for (let i = 0; i < 3; i += 1) await more.click();
  await settled(page);
  const three = await warmUp();
  await page.waitForTimeout(1100);
  await more.click();
  await settled(page);
  assert.notEqual(await warmUp(), three);
  await undo(page);
  assert.equal(await warmUp(), three);
  await undo(page);
  assert.equal(await warmUp(), "6 min");
  quiet(log);
  await close();
});

test("two hundred changes can be undone, and no more are kept", async () => {
  const { page, log, close } = await openDay();
  const range = slider(page, "cooler.ua");
  await range.evaluate((node) => {
    for (let i = 0; i < 230; i += 1) {
      node.dispatchEvent(new PointerEvent("pointerdown"));
      node.value = Number(node.min) + Number(node.step) * (i + 1);
      node.dispatchEvent(new Event("input", { bubbles: true }));
      node.dispatchEvent(new Event("change", { bubbles: true }));
    }
  });
  await settled(page);
  const steps = await page.evaluate(() => {
    let count = 0;
    while (document.querySelector("#undo").getAttribute("aria-disabled") !== "true" && count < 999) {
      document.dispatchEvent(new KeyboardEvent("keydown", { key: "z", ctrlKey: true, bubbles: true }));
      count += 1;
    }
    return count;
  });
  assert.equal(steps, 200);
  quiet(log);
  await close();
});

test("opening a day, starting over and taking back a mistake are entries too, over a reload", async () => {
  const { page, log, close } = await openDay();
  await type(page, box(page, "cooler.ua"), "150");
  const edited = await everything(page);
  await page.locator("#example").selectOption("dyno_bench_session");
  await settled(page);
  const bench = await everything(page);
  assert.equal(bench.name, "Dyno bench session");
  assert.equal(await text(page, "#note-text"), "Opened Dyno bench session.");
  await page.reload();
  await ready(page);
  assert.equal(await text(page, "#note-text"), "Opened Dyno bench session.");
  await page.locator("#note-undo").click();
  assert.deepEqual(await everything(page), edited);
  assert.equal(await page.locator("#note").isVisible(), false);
  assert.match(await text(page, "#key-launch-change"), /since opened/, "compared with the day as it was opened");
  await redo(page);
  assert.deepEqual(await everything(page), bench);
  await undo(page);

  await page.locator("#start-over").click();
  await settled(page);
  assert.equal((await kept(page)).scenario.setup.cooler.ua, "110 W/K");
  await undo(page);
  assert.deepEqual(await everything(page), edited);

  await type(page, box(page, "air.temperature"), "abc");
  assert.ok(await page.locator("#problem").isVisible());
  await undo(page);
  assert.equal(await page.locator("#problem").isVisible(), false);
  assert.deepEqual(await everything(page), edited);
  await redo(page);
  assert.ok(await page.locator("#problem").isVisible());
  await page.getByRole("button", { name: "Take the change back" }).click();
  assert.deepEqual(await everything(page), edited);
  assert.match(await text(page, "#note-text"), /taken back/);
  await page.reload();
  await ready(page);
  await page.locator("#note-undo").click();
  await settled(page);
  assert.equal((await kept(page)).scenario.setup.air.temperature, "abc");
  for (let i = 0; i < 2; i += 1) await undo(page);
  assert.equal((await kept(page)).scenario.setup.cooler.ua, "110 W/K", "back to the beginning over two reloads");
  assert.equal(await page.locator("#undo").getAttribute("aria-disabled"), "true");
  quiet(log);
  await close();
});
