// While a slider is dragged the chart is of the newest move in the frame of that move; tables and other pictures may be
// a little behind, and when the slider rests nothing is.

import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { box, openDayOf, quiet, screenshot, settled, slider, startSite } from "./harness.mjs";

const SLIDER = "cooler.ua";
// As `www/seen.js` has it: how many moves in a row a part in sight may miss.
const MOST_MISSED = 8;

let site;
before(async () => (site = await startSite()));
after(() => site?.close());

const chartInSight = (page) => page.locator("#chart").evaluate((node) => node.scrollIntoView({ block: "center" }));

/** Everything that a slider changes, as it stands on the page: texts, labels, and pictures by their pixels. */
const shown = (page) => page.evaluate(() => {
  const texts = (selector) => [...document.querySelectorAll(selector)].map((node) => node.textContent);
  const labels = (selector) => [...document.querySelectorAll(selector)].map((node) => node.getAttribute("aria-label"));
  const pixels = (selector) => [...document.querySelectorAll(selector)].map((canvas) => canvas.toDataURL());
  return {
    finding: texts("#finding, #finding-more, #advice"),
    keys: texts(".keys dl dd"),
    launches: texts("#launch-rows td, #brake-rows td, #pass-rows td"),
    stages: texts(".stage"),
    chart: pixels("#chart"),
    heat: pixels("#heat-chart"),
    others: pixels("#pass-canvas, .day-picture canvas"),
    cursor: texts(".moment, .legend .value"),
    lanes: labels(".lanes .block"),
    heatTable: texts("#heat-body td, .heat-legend .value"),
    events: texts("#table-rows td"),
    cutaway: texts(".degrees, .rate, .cutaway-says"),
    pass: texts("#pass-says, #pass-heat td, #pass-heat .value"),
    ledger: texts("#ledger-body .closes, #ledger-body li"),
    cautions: texts("#cautions li"),
    between: texts("#turnaround-rows td, #fluid-life"),
    numbers: [...document.querySelectorAll("#setup-body input")].map((input) => `${input.value} ${input.getAttribute("aria-valuetext")}`),
  };
});

/** Sets the slider as one event, and waits for all that comes of it. */
async function setTo(page, value) {
  await slider(page, SLIDER).evaluate((range, to) => {
    range.value = to;
    range.dispatchEvent(new Event("input", { bubbles: true }));
    range.dispatchEvent(new Event("change", { bubbles: true }));
  }, value);
  await settled(page);
}

const openTables = (page) => page.evaluate(() => {
  for (const id of ["launch-more", "table", "heat-table", "pass-table"]) document.getElementById(id).open = true;
});

for (const [what, options, look] of [
  ["the chart in sight", {}, chartInSight],
  ["the top of the page in sight", {}, () => {}],
  ["the cut-away in sight, on a phone", { width: 360, height: 740 }, (page) => page.locator(".cutaway").scrollIntoViewIfNeeded()],
]) {
  test(`after many quick moves everything is of the last one: ${what}`, async () => {
    const { page, log, close } = await openDayOf(site, options);
    await openTables(page);
    await settled(page);
    const opened = await shown(page);
    await look(page);
    // As quick as events can come, some of them several in a frame.
    const last = await slider(page, SLIDER).evaluate(async (range) => {
      const [from, step] = [Number(range.value), Number(range.step)];
      for (let move = 1; move <= 60; move += 1) {
        range.value = from + step * (move % 40);
        range.dispatchEvent(new Event("input", { bubbles: true }));
        if (move % 3 > 0) await new Promise(requestAnimationFrame);
      }
      return Number(range.value);
    });
    const frames = await page.evaluate(async () => {
      let count = 0;
      do {
        await new Promise(requestAnimationFrame);
        count += 1;
      } while (document.documentElement.dataset.behind === "in-sight" || count < 2);
      return count;
    });
    assert.ok(frames <= 5, `what is in sight came ${frames} frames after the last move`);
    await settled(page);
    const dragged = await shown(page);
    await close();

    const fresh = await openDayOf(site, options);
    await openTables(fresh.page);
    await setTo(fresh.page, last);
    const once = await shown(fresh.page);
    for (const [part, now] of Object.entries(dragged)) {
      assert.ok(now.length > 0, part);
      assert.deepEqual(now, once[part], part);
      // Cautions may stay the same ones; what the pass and the blocks are does not hang on the cooler much.
      if (!["cautions", "lanes"].includes(part)) assert.notDeepEqual(now, opened[part], `${part} has not changed at all`);
    }
    quiet(log);
    await fresh.close();
  });
}

test("during a drag the chart is of the newest move in its frame, and what else is in sight a few moves behind", async () => {
  const { page, log, close } = await openDayOf(site);
  await chartInSight(page);
  // What is in sight is known a task after the frame that scrolled.
  await settled(page);
  await page.waitForTimeout(50);
  const moves = await slider(page, SLIDER).evaluate(async (range) => {
    const [from, step] = [Number(range.value), Number(range.step)];
    const frame = () => new Promise((done) => requestAnimationFrame(() => {
      // Delivered after the frame's script, layout and paint.
      const { port1, port2 } = new MessageChannel();
      port1.onmessage = done;
      port2.postMessage(null);
    }));
    const text = (selector) => document.querySelector(selector).textContent;
    const seen = [];
    for (let move = 1; move <= 30; move += 1) {
      range.value = from + step * move;
      range.dispatchEvent(new Event("input", { bubbles: true }));
      await frame();
      seen.push({
        value: Number(range.value),
        first: [document.querySelector("#chart").toDataURL(), text("#finding"), text("#key-peak"), text("#key-launch")],
        below: document.querySelector("#heat-chart").toDataURL(),
      });
    }
    return seen;
  });
  assert.equal(new Set(moves.map(({ value }) => value)).size, moves.length);

  const atRest = [];
  for (const { value } of moves) {
    await setTo(page, value);
    atRest.push(await page.evaluate(() => {
      const text = (selector) => document.querySelector(selector).textContent;
      return {
        first: [document.querySelector("#chart").toDataURL(), text("#finding"), text("#key-peak"), text("#key-launch")],
        below: document.querySelector("#heat-chart").toDataURL(),
      };
    }));
  }
  // Two values with one picture could be taken for each other.
  assert.equal(new Set(atRest.map(({ first: [picture] }) => picture)).size, moves.length);
  moves.forEach(({ value, first, below }, at) => {
    assert.deepEqual(first, atRest[at].first, `${value} W/K`);
    const from = Math.max(0, at - MOST_MISSED);
    const known = atRest.slice(from, at + 1).map((one) => one.below);
    if (at >= MOST_MISSED) assert.ok(known.includes(below), `the heat below the chart of ${value} W/K is older than ${MOST_MISSED} moves`);
  });
  quiet(log);
  await close();
});

test("a slider that is reached just after an undo shows what holds", async () => {
  const { page, log, close } = await openDayOf(site);
  await slider(page, SLIDER).focus();
  const before = await slider(page, SLIDER).inputValue();
  for (let press = 0; press < 5; press += 1) await page.keyboard.press("ArrowRight");
  await settled(page);
  assert.notEqual(await slider(page, SLIDER).inputValue(), before);
  await slider(page, "air.temperature").focus();
  // A slow processor: the key comes between what is told at once and what is told after the frame.
  const devtools = await page.context().newCDPSession(page);
  await devtools.send("Emulation.setCPUThrottlingRate", { rate: 6 });
  await page.keyboard.press("Control+z");
  for (let tab = 0; tab < 8; tab += 1) {
    await page.keyboard.press("Tab");
    if (await page.evaluate(() => document.activeElement.closest(".control")?.dataset.path) === SLIDER) break;
  }
  await settled(page);
  assert.deepEqual([await slider(page, SLIDER).inputValue(), await box(page, SLIDER).inputValue()], [before, before]);
  quiet(log);
  await close();
});

test("what stands below a chart out of sight is of the same move as the chart, whenever the move comes", async () => {
  const { page, log, close } = await openDayOf(site, { width: 360, height: 740 });
  await slider(page, "event.duration").scrollIntoViewIfNeeded();
  await settled(page);
  const seen = await page.evaluate(async () => {
    const frame = () => new Promise(requestAnimationFrame);
    const rest = async () => {
      await frame();
      do await frame(); while (document.documentElement.hasAttribute("data-behind"));
    };
    const range = document.querySelector('.control[data-path="event.duration"] input[type=range]');
    const put = (value) => {
      range.value = value;
      range.dispatchEvent(new Event("input", { bubbles: true }));
    };
    const chart = document.querySelector("#chart");
    const heat = () => document.querySelector("#heat-chart").toDataURL();
    // The next move comes as soon as the temperatures are drawn, which is before the heat below them is.
    const was = CanvasRenderingContext2D.prototype.stroke;
    let moved = 0;
    CanvasRenderingContext2D.prototype.stroke = function (...given) {
      if (this.canvas === chart && moved === 0) {
        moved += 1;
        const { port1, port2 } = new MessageChannel();
        port1.onmessage = () => put(range.max);
        port2.postMessage(null);
      }
      return was.apply(this, given);
    };
    put(Number(range.min) + Number(range.step));
    while (moved === 0) await frame();
    await rest();
    CanvasRenderingContext2D.prototype.stroke = was;
    const found = { value: range.value, most: range.max, heat: heat() };
    // Drawn anew.
    for (const units of ["si", "us"]) {
      document.querySelector(`#units-${units}`).click();
      await rest();
    }
    return { ...found, anew: heat() };
  });
  assert.equal(Number(seen.value), Number(seen.most));
  assert.equal(seen.heat, seen.anew);
  quiet(log);
  await close();
});

test("nothing jumps while a slider is dragged", async () => {
  for (const [name, options] of [["wide", {}], ["phone", { width: 360, height: 740 }]]) {
    const { page, log, close } = await openDayOf(site, options);
    if (name === "wide") await chartInSight(page);
    else await slider(page, SLIDER).scrollIntoViewIfNeeded();
    const track = await slider(page, SLIDER).boundingBox();
    const at = (share) => track.x + track.width * (0.3 + 0.4 * share);
    await page.evaluate(() => {
      window.shifts = [];
      new PerformanceObserver((list) => window.shifts.push(...list.getEntries().map(({ value, sources }) =>
        [value, ...sources.map(({ node }) => node?.id || node?.className || node?.nodeName)]))).observe({ type: "layout-shift" });
    });
    await page.mouse.move(at(0), track.y + track.height / 2);
    await page.mouse.down();
    for (let move = 1; move <= 30; move += 1) {
      await page.mouse.move(at(move / 30), track.y + track.height / 2);
      await page.evaluate(() => new Promise(requestAnimationFrame));
      if (move === 20) await screenshot(page, `drag-${name}`, { fullPage: false });
    }
    await page.mouse.up();
    await settled(page);
    // Input makes a shift an expected one; a drag is input all the time, so all shifts are looked at.
    const shifts = (await page.evaluate(() => window.shifts)).filter(([value]) => value > 0.02);
    assert.deepEqual(shifts, [], name);
    quiet(log);
    await close();
  }
});
