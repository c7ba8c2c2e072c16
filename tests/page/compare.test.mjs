// Comparing up to four days: keeping, dropping and editing copies by mouse and by keys, what the tables say against what the
// rest of the page says of the same days, links, ready-made changes, every way of a turnaround at once.

import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import {
  axeSource, box, cells, kept, launchDegrees as launches, openDayOf, openPart, press, quiet, ready, screenshot, settled, slider, startSite, tableRows as rows,
  text, type, withModules,
} from "./harness.mjs";

let site;
before(async () => (site = await startSite()));
after(() => site?.close());

const openDay = (options) => openDayOf(site, options);
const keep = async (page) => {
  await page.locator("#keep-day").click();
  await settled(page);
};
const tap = async (page, key, round = "") => {
  await page.locator("#what-if-compare .turnaround-ways select").selectOption(round);
  await page.locator(`[data-ready=${key}]`).click();
  await settled(page);
};
const undo = async (page) => {
  await page.locator("#undo").click();
  await settled(page);
};
const undoable = (page) => page.locator("#undo").getAttribute("title");
/** What is listed as changed in a day, [label, from → to]. */
const changes = (page, letter) => page.locator(`[data-changes=${letter}] li`).evaluateAll((all) => all.map((one) => [...one.children].map((part) => part.textContent)));
/** The days that are compared, [letter, name]. */
const named = (page) => page.locator("#compare-variants > li").evaluateAll((all) => all.map((one) => [one.querySelector(".letter").textContent, one.querySelector(".variant-name").textContent]));
const show = async (page, quantity) => {
  await page.getByLabel("At each launch").selectOption(quantity);
  await settled(page);
};
/** A table by days as [label, [[value, difference or ""], …]]. */
const byDay = (page, selector) => page.locator(`${selector} tr`).evaluateAll((all) => all.filter((row) => row.cells.length > 1).map((row) => {
  const [head, ...others] = row.cells;
  return [head.textContent, others.map((cell) => [cell.firstChild.textContent, cell.querySelector(".drift")?.textContent ?? ""])];
}));
/** The difference of two shown numbers as it must stand below the first. */
function between(value, of) {
  const digits = value.split(".")[1]?.length ?? 0;
  const change = Number((Number(value.replace("−", "-")) - Number(of.replace("−", "-"))).toFixed(digits));
  return change === 0 ? "±0" : `${change > 0 ? "+" : "−"}${Math.abs(change).toFixed(digits)}`;
}
/** What the page itself says of its day: launches as pan, converter, flash, ET; key numbers; battery of all turnarounds. */
async function own(page) {
  const shown = await cells(page);
  const first = (cell) => cell.split(" ")[0];
  const used = (await rows(page, "#turnaround-rows")).map((row) => Number(row[4]));
  return {
    pan: shown.map((row) => row[3]), converter: shown.map((row) => row[2]), flash: shown.map((row) => first(row[5])), et: shown.map((row) => first(row[6])),
    peak: first(await text(page, "#key-peak")), launch: first(await text(page, "#key-launch")), spread: first(await text(page, "#key-spread")),
    used: used.reduce((sum, one) => sum + one, 0), turnarounds: used.length,
  };
}
/** The address a little after a change, when it is written. */
const hash = async (page) => {
  await page.waitForTimeout(1000);
  return page.evaluate(() => location.hash);
};
/** A link as the page's own module writes it. */
const linkWith = async (page, more) => {
  await withModules(page);
  return page.evaluate(async (added) => {
    const { linkOf, readLink } = await import(new URL("link.js", document.querySelector("script[type=module]").src).href);
    const { compared, beside, ...state } = await readLink(location.hash);
    return linkOf({ ...state, ...added });
  }, more);
};

test("A, B and C are kept by mouse and by keys, the edited day is D; every number of the tables is one that the page showed", async () => {
  const { page, log, close } = await openDay();
  await openPart(page, "compare");
  const seen = [];
  seen.push(await own(page));
  await keep(page);
  assert.match(await text(page, "#compare-says"), /^B, the day you edit, is the same as A/);
  assert.equal(await undoable(page), "", "keeping is no entry of undo");
  await keep(page);
  assert.equal(await text(page, "#compare-said"), "This is A as it stands: change something first.");
  await tap(page, "nothing");
  seen.push(await own(page));
  await press(page, "#keep-day");
  await type(page, box(page, "cooler.ua"), "60");
  seen.push(await own(page));
  await press(page, "#keep-day");
  await tap(page, "hold");
  await type(page, box(page, "air.temperature"), "60");
  seen.push(await own(page));
  await press(page, "#keep-day");
  assert.equal(await text(page, "#compare-said"), "4 days are compared at most: drop one to keep another.");

  assert.deepEqual(await named(page), [
    ["A", "Saturday bracket day"],
    ["B", "Engine off and nothing, every round"],
    ["C", "Cooler size (UA) 60 W/K; +2 more"],
    ["D", "Air temperature 60 °F; +4 more (edited)"],
  ]);
  assert.deepEqual((await changes(page, "B")).map(([label]) => label), ["Every round: Pits, pump", "Every round: Pits, fan"]);
  assert.deepEqual((await changes(page, "C"))[0], ["Cooler and fan: Cooler size (UA)", "110 W/K → 60 W/K"]);
  assert.equal((await changes(page, "D")).length, 5);

  for (const quantity of ["pan", "converter", "flash", "et"]) {
    await show(page, quantity);
    const found = await byDay(page, "#compare-rows");
    assert.deepEqual(found.map(([round]) => round), ["1", "2", "3", "4", "5", "6"]);
    found.forEach(([round, days], launch) => days.forEach(([value, difference], day) => {
      assert.equal(value, seen[day][quantity][launch], `${quantity} of day ${day} in round ${round}`);
      assert.equal(difference, day === 0 ? "" : between(value, days[0][0]), `${quantity} of day ${day} in round ${round}`);
    }));
  }
  const numbers = new Map(await byDay(page, "#compare-numbers tbody:not(#compare-cursor)"));
  for (const [label, key] of [["Converter, peak", "peak"], ["Pan, last launch", "launch"], ["Spread of launches", "spread"]]) {
    assert.deepEqual(numbers.get(label).map(([value]) => value), seen.map((one) => one[key]), label);
    assert.deepEqual(numbers.get(label).slice(1).map(([, by]) => by), seen.slice(1).map((one) => between(one[key], seen[0][key])), label);
  }
  // The table of turnarounds is rounded row by row.
  numbers.get("Pump and fan, Ah").forEach(([value], day) =>
    assert.ok(Math.abs(Number(value) - seen[day].used) <= 0.05 * (seen[day].turnarounds + 1), `${value} and ${seen[day].used}`));

  // Against another of them.
  await page.getByLabel("Differences against").selectOption("B");
  await settled(page);
  for (const [, days] of await byDay(page, "#compare-rows")) {
    days.forEach(([value, by], day) => assert.equal(by, day === 1 ? "" : between(value, days[1][0])));
  }
  assert.deepEqual((await changes(page, "A")).map(([, to]) => to), ["off → through the converter for 5 min", "off → on for 10 min"]);
  quiet(log);
  await close();
});

test("at the cursor stand the numbers that the legend has of each day, and their differences", async () => {
  const { page, log, close } = await openDay();
  await openPart(page, "compare");
  await keep(page);
  await tap(page, "nothing");
  await keep(page);
  await tap(page, "cooler");
  await page.locator("#cursor").focus();
  for (const key of ["End", "PageDown", "PageDown"]) {
    await page.keyboard.press(key);
    await settled(page);
    const edited = await page.locator(".legend:not(.others-legend) .value").allTextContents();
    const others = await page.locator(".others-legend .entry").evaluateAll((all) => all.map((one) => [one.querySelector(".name").textContent, Number(one.querySelector(".value").textContent)]));
    assert.deepEqual(others.map(([name]) => name), ["A: converter fluid", "A: pan fluid", "B: converter fluid", "B: pan fluid"]);
    const found = new Map(await byDay(page, "#compare-cursor"));
    for (const [label, node, at] of [["Converter", 0, 0], ["Pan", 2, 1]]) {
      const days = found.get(label);
      assert.equal(days[2][0], edited[node], `${label} as edited`);
      // Laid over the chart are curves whose straight pieces may leave the day by a tenth of a degree.
      [0, 1].forEach((day) => assert.ok(Math.abs(Number(days[day][0]) - others[2 * day + at][1]) <= 1));
      [1, 2].forEach((day) => assert.equal(days[day][1], between(days[day][0], days[0][0])));
    }
    assert.ok((await text(page, "#compare-cursor .where")).startsWith("At the cursor, "));
  }
  quiet(log);
  await close();
});

test("undo goes through the edited day alone; a copy is one entry; what was dropped is brought back once, to its place", async () => {
  const { page, log, close } = await openDay();
  await openPart(page, "compare");
  const was = await launches(page);
  await keep(page);
  await type(page, box(page, "cooler.ua"), "60");
  const small = await launches(page);
  assert.ok(small.at(-1)[1] > was.at(-1)[1], "a smaller cooler leaves the pan hotter");
  await keep(page);
  await type(page, box(page, "cooler.ua"), "200");
  const large = await launches(page);
  await undo(page);
  assert.deepEqual(await launches(page), small);
  assert.deepEqual((await named(page)).map(([letter]) => letter), ["A", "B", "C"]);
  assert.match((await named(page))[2][1], /^Cooler size \(UA\) 60 W\/K \(edited\)$/);
  await undo(page);
  assert.deepEqual(await launches(page), was);
  assert.deepEqual((await named(page))[2][1], "Same as A (edited)");
  await page.locator("#redo").click();
  await page.locator("#redo").click();
  await settled(page);
  assert.deepEqual(await launches(page), large);

  await press(page, "[data-edit=B]");
  assert.equal(await undoable(page), "Edit a copy of B");
  assert.deepEqual(await launches(page), small);
  await press(page, "[data-edit=B]");
  assert.equal(await text(page, "#compare-said"), "The day you edit is the same as B.");
  await undo(page);
  assert.deepEqual(await launches(page), large);

  await press(page, "[data-drop=A]");
  assert.deepEqual(await named(page), [["A", "Saturday bracket day"], ["B", "Cooler size (UA) 200 W/K (edited)"]]);
  assert.deepEqual(await changes(page, "B"), [["Cooler and fan: Cooler size (UA)", "60 W/K → 200 W/K"]]);
  assert.equal(await page.evaluate(() => document.activeElement.id), "again-day");
  await page.keyboard.press("Enter");
  await settled(page);
  assert.deepEqual((await named(page)).map(([, name]) => name), ["Saturday bracket day", "Cooler size (UA) 60 W/K", "Cooler size (UA) 200 W/K (edited)"]);
  assert.deepEqual(await launches(page), large);
  assert.ok(await page.locator("#again-day").isHidden());
  for (const letter of ["B", "A"]) await page.locator(`[data-drop=${letter}]`).click();
  await settled(page);
  assert.ok(await page.locator("#compare-launches").isHidden());
  assert.ok(await page.locator("#compare-numbers").isHidden());
  assert.equal(await page.locator(".others-legend .entry").count(), 0);
  assert.equal(await page.locator(".chart-letter").count(), 0);
  // Both can be brought back, the newest first, after a reload, too.
  await page.reload();
  await ready(page);
  await openPart(page, "compare");
  for (const letters of [["A", "B"], ["A", "B", "C"]]) {
    await page.locator("#again-day").click();
    await settled(page);
    assert.deepEqual((await named(page)).map(([letter]) => letter), letters);
  }
  assert.deepEqual((await named(page)).map(([, name]) => name), ["Saturday bracket day", "Cooler size (UA) 60 W/K", "Cooler size (UA) 200 W/K (edited)"]);
  assert.ok(await page.locator("#again-day").isHidden());
  quiet(log);
  await close();
});

test("A that is B lies on it at every moment of a pass", async () => {
  const { page, log, close } = await openDay();
  await openPart(page, "compare");
  await press(page, "#keep-day");
  await page.getByRole("button", { name: "R6: round 6" }).click();
  await page.locator(".stage[data-stage=pass]").click();
  await page.locator("#cursor").scrollIntoViewIfNeeded();
  const { x, y, width, height } = await page.locator("#cursor").boundingBox();
  for (let part = 0.15; part < 1; part += 0.07) {
    await page.mouse.move(x + width * part, y + height / 2);
    await settled(page);
    const edited = await page.locator(".legend:not(.others-legend) [data-node=converter_fluid] .value").textContent();
    const a = await page.locator(".others-legend .entry .value").first().textContent();
    assert.ok(Math.abs(Number(edited) - Number(a)) <= 1, `${edited} and ${a} at ${part.toFixed(2)}`);
  }
  // Curves that are one have one label with both letters.
  assert.ok((await page.locator(".chart-letter").allTextContents()).every((letters) => letters === "A B"));
  quiet(log);
  await close();
});

test("a curve loses the points that a straight line goes through, and gets one at every corner of another day's axis", async () => {
  const { page, close } = await openDay();
  await withModules(page);
  const found = await page.evaluate(async () => {
    const module = (name) => import(new URL(name, document.querySelector("script[type=module]").src).href);
    const [{ thinned, timesOf }, { along, cornered }, { core }] = [await module("overlays.js"), await module("axis.js"), await module("core.js")];
    const wasm = await core();
    const day = wasm.Day.simulate(wasm.examples()[0].text);
    const summary = day.summary("us");
    const times = timesOf(summary);
    const bends = [...summary.events, ...summary.switches].flatMap((one) => [one.start_s, one.end_s]);
    const curves = ["converter_fluid", "pan_fluid"].map((node) => {
      const values = day.series(node, times);
      const thin = thinned(times, values, summary);
      const off = Math.max(...Array.from(times, (time, at) => Math.abs(along(thin.times_s, thin.value_k, time) - values[at])));
      const knots = [[-5, 0], [0, 0], [1234.5, 0.4], [thin.times_s[7], 0.5], [summary.duration_s, 0.9], [summary.duration_s + 9, 1]];
      const bent = cornered(thin, knots);
      return {
        off, points: [times.length, thin.times_s.length, bent.times_s.length], hasBends: bends.every((time) => thin.times_s.includes(time)),
        onLine: Math.max(...bent.times_s.map((time, at) => Math.abs(along(thin.times_s, thin.value_k, time) - bent.value_k[at]))),
        hasKnot: bent.times_s.includes(1234.5), grows: bent.times_s.every((time, at) => at === 0 || time > bent.times_s[at - 1]),
        ends: [bent.times_s[0] === times[0], bent.times_s.at(-1) === times.at(-1)],
      };
    });
    day.free();
    return curves;
  });
  for (const { off, points: [all, thin, bent], hasBends, onLine, hasKnot, grows, ends } of found) {
    assert.ok(off <= 0.05 + 1e-9, `${off} K`);
    assert.ok(thin < all / 2, `${thin} of ${all} points`);
    assert.equal(bent, thin + 1);
    assert.ok(onLine < 1e-9 && hasKnot && hasBends && grows);
    assert.deepEqual(ends, [true, true]);
  }
  await close();
});

test("every kept day has a dash of its own and its letter on its curve", async () => {
  const { page, log, close } = await openDay();
  await openPart(page, "compare");
  for (const key of ["nothing", "cooler", "hold"]) {
    await keep(page);
    await tap(page, key);
  }
  const dashes = await page.locator("#compare-variants .dash line").evaluateAll((all) => all.map((line) => line.getAttribute("stroke-dasharray")));
  assert.equal(new Set(dashes).size, 4, dashes.join(" | "));
  assert.equal(dashes[3], null, "the edited day's is full");
  const own = await page.locator(".others-legend .entry .sample line").evaluateAll((all) => all.map((line) => line.getAttribute("stroke-dasharray")));
  assert.deepEqual(own, dashes.slice(0, 3).flatMap((dash) => [dash, dash]));
  await page.getByRole("button", { name: "R4: round 4" }).click();
  await settled(page);
  // A letter stands at the height of its curve: the legend has what the curve is where the cursor goes.
  const letters = await page.locator(".chart-letter").evaluateAll((all) => all.map((one) => {
    const { left, width, top, height } = one.getBoundingClientRect();
    return { text: one.textContent, light: one.style.getPropertyValue("--light"), x: left + width / 2, y: top + height / 2 };
  }));
  assert.ok(letters.length >= 6, `${letters.length} letters`);
  const letterHeights = [];
  for (const { text: letter, light, x, y } of letters.filter(({ text: one }) => one.length === 1)) {
    await page.mouse.move(x, y);
    await settled(page);
    const node = await page.locator(".legend:not(.others-legend) .entry").evaluateAll((all, ink) => {
      const rgb = (colour) => {
        const probe = document.body.appendChild(document.createElement("i"));
        probe.style.color = colour;
        const found = getComputedStyle(probe).color;
        probe.remove();
        return found;
      };
      return all.find((one) => rgb(one.querySelector("svg").style.getPropertyValue("--light")) === rgb(ink))?.dataset.node;
    }, light);
    const value = letter === "D" ? await page.locator(`.legend:not(.others-legend) [data-node=${node}] .value`).textContent()
      : await page.locator(".others-legend .entry").filter({ hasText: `${letter}: ${node === "pan_fluid" ? "pan" : "converter"}` }).locator(".value").textContent();
    letterHeights.push([letter, node, y, Number(value)]);
  }
  // Heights fall straight with the temperature.
  const [low, high] = [letterHeights.reduce((one, other) => (other[3] < one[3] ? other : one)), letterHeights.reduce((one, other) => (other[3] > one[3] ? other : one))];
  const slope = (high[2] - low[2]) / (high[3] - low[3]);
  assert.ok(slope < 0);
  for (const [letter, node, y, value] of letterHeights) {
    assert.ok(Math.abs(low[2] + slope * (value - low[3]) - y) <= 4, `${letter} of ${node} at ${value}`);
  }
  quiet(log);
  await close();
});

test("kept days outlive a reload and another unit; an older visit's A is taken over; what storage holds in their place is not believed", async () => {
  const { page, log, close } = await openDay();
  await openPart(page, "compare");
  await keep(page);
  await type(page, box(page, "air.temperature"), "60");
  await keep(page);
  await tap(page, "fan", "2");
  const all = await named(page);
  assert.equal(all[2][1], "Air temperature 60 °F; +2 more (edited)");
  await show(page, "converter");
  const numbers = await byDay(page, "#compare-rows");
  await page.reload();
  await ready(page);
  await settled(page);
  assert.deepEqual(await named(page), all);
  assert.deepEqual(await byDay(page, "#compare-rows"), numbers);
  assert.ok(!JSON.stringify(await kept(page)).includes("overlays"));
  await page.locator("label[for=units-si]").click();
  await settled(page);
  const [[, celsius]] = await changes(page, "B");
  assert.match(celsius, /^31\.11\d* °C → 15\.55\d* °C$/); // 88 and 60 °F: (88 − 32)/1.8, (60 − 32)/1.8
  assert.ok((await text(page, "#compare-launches caption")).includes("°C"));
  // As visits before there were several kept theirs.
  await page.evaluate(() => {
    const { days: [, a] } = JSON.parse(localStorage.getItem("stallheat.what-if.1"));
    localStorage.setItem("stallheat.what-if.1", JSON.stringify({ a }));
  });
  await page.reload();
  await ready(page);
  await settled(page);
  assert.equal((await named(page)).length, 2);
  assert.equal((await changes(page, "B")).length, 2);
  for (const bad of ['{"a":{"timeline":[{"event":"pass","duration":"a while"}]}}', '{"a":7,"guess":3,"family":[],"known":1}', "{", '{"days":[3,null,"A"],"dropped":[7,{"days":7},null]}', '{"days":{},"dropped":5,"quantity":[]}', '{"guess":{"hold":"warm"},"family":{"path":"x.y","drawn":true}}']) {
    await page.evaluate((value) => localStorage.setItem("stallheat.what-if.1", value), bad);
    await page.reload();
    await ready(page);
    assert.match(await text(page, "#finding"), /°C/);
    for (const id of ["guess", "compare", "family", "band"]) {
      if (!(await page.locator(`#what-if-${id}`).evaluate((node) => node.open))) await openPart(page, id);
    }
    assert.ok(await page.locator("#compare-launches").isHidden(), bad);
  }
  quiet(log);
  await close();
});

test("a kept day that the core refuses says why, keeps its place and can be mended as a copy", async () => {
  const { page, log, close } = await openDay();
  await openPart(page, "compare");
  await keep(page);
  await tap(page, "fan");
  await page.evaluate(() => {
    const what = JSON.parse(localStorage.getItem("stallheat.what-if.1"));
    const bad = structuredClone(what.days[0]);
    bad.setup.cooler.ua = "-5 W/K";
    localStorage.setItem("stallheat.what-if.1", JSON.stringify({ ...what, days: [bad, what.days[0]] }));
  });
  await page.reload();
  await ready(page);
  await settled(page);
  assert.match(await text(page, "[data-variant=A] .field-error"), /^Cooler and fan, cooler size \(ua\): "-5 W\/K" — from 5 W\/K to/);
  // The others are compared; nothing is against what has no numbers.
  const table = await byDay(page, "#compare-rows");
  assert.ok(table.every(([, days]) => days[0][0] === "–" && /^\d+$/.test(days[1][0]) && days.every(([, by]) => by === "")));
  await page.getByLabel("Differences against").selectOption("B");
  await settled(page);
  assert.ok((await byDay(page, "#compare-rows")).some(([, days]) => /\d/.test(days[2][1])));
  await page.locator("[data-edit=A]").click();
  await settled(page);
  assert.match(await text(page, "#problem-text"), /^Cooler and fan, cooler size/);
  await type(page, box(page, "cooler.ua"), "90");
  assert.ok(await page.locator("#problem").isHidden());
  quiet(log);
  await close();
});

test("each ready-made change is one tap and one entry of undo, keeps A by itself and does what a racer expects", async () => {
  const { page, log, close } = await openDay();
  await openPart(page, "compare");
  const was = await launches(page);
  let scenario; // as it is kept after the first was taken back
  const last = ([, pan]) => pan;
  const expected = {
    nothing: (now) => last(now.at(-1)) > last(was.at(-1)), // without pump and fan the pan stays hotter
    fan: (now) => last(now.at(-1)) > last(was.at(-1)),
    through_converter: (now) => last(now.at(-1)) < last(was.at(-1)), // all turnaround instead of five minutes
    pan_loop: (now) => last(now.at(-1)) !== last(was.at(-1)),
    idle: (now) => last(now.at(-1)) !== last(was.at(-1)),
    cooler: (now) => last(now.at(-1)) < last(was.at(-1)),
    hold: (now) => now.every(([converter], round) => converter < was[round][0]), // less time at full stall before each launch
    stall: (now) => now.every(([converter], round) => converter !== was[round][0]),
  };
  assert.deepEqual((await page.locator("[data-ready]").evaluateAll((all) => all.map((one) => one.dataset.ready))).sort(), Object.keys(expected).sort());
  for (const [key, holds] of Object.entries(expected)) {
    await tap(page, key);
    assert.equal(await text(page, "#what-if-compare .ready-refused"), "", key);
    const now = await launches(page);
    assert.ok(holds(now), `${key}: ${JSON.stringify(now)} of ${JSON.stringify(was)}`);
    assert.ok((await changes(page, "B")).length > 0, key);
    const label = await page.locator(`[data-ready=${key}]`).textContent();
    assert.ok((await named(page))[1][1].startsWith(label), `${(await named(page))[1][1]} is called as it was tapped`);
    await undo(page);
    assert.deepEqual(await launches(page), was, key);
    const { scenario: back } = await kept(page);
    scenario ??= back;
    assert.deepEqual(back, scenario, key);
    assert.match(await text(page, "#compare-says"), /^B, the day you edit, is the same as A/, key);
  }
  // What is as it was said already is said, and is no entry.
  await tap(page, "fan");
  const label = await undoable(page);
  await tap(page, "fan");
  assert.equal(await text(page, "#what-if-compare .ready-refused"), "The day has this already.");
  assert.equal(await undoable(page), label);
  quiet(log);
  await close();
});

test("a ready-made change of one round leaves the rounds before it and is said of that round", async () => {
  const { page, log, close } = await openDay();
  await openPart(page, "compare");
  const was = await launches(page);
  await tap(page, "nothing", "3");
  const now = await launches(page);
  assert.deepEqual(now.slice(0, 3), was.slice(0, 3));
  assert.ok(now[3][1] > was[3][1]);
  assert.deepEqual(await changes(page, "B"), [
    ["Round 3: Pits, pump", "through the converter for 5 min → off"],
    ["Round 3: Pits, fan", "on for 10 min → off"],
  ]);
  assert.equal((await named(page))[1][1], "Engine off and nothing, round 3 (edited)");
  await undo(page);
  await tap(page, "idle", "2");
  const idled = await launches(page);
  assert.deepEqual(idled.slice(0, 2), was.slice(0, 2));
  assert.deepEqual((await changes(page, "B"))[0], ["Round 2: Event added", "none → Idle to circulate, 5 min"]);
  // On the bench there are no rounds to be between: only what the day has is offered.
  await page.locator("#example").selectOption("dyno_bench_session");
  await settled(page);
  const offered = await page.locator("[data-ready]:visible").evaluateAll((all) => all.map((one) => one.dataset.ready));
  assert.deepEqual(offered, ["cooler", "hold", "stall"]);
  assert.ok(await page.locator("#every-run").isHidden());
  // Another day beside A is called by its own name.
  assert.equal((await named(page))[1][1], `${await text(page, "#day-name")} (edited)`);
  quiet(log);
  await close();
});

test("a link carries three kept days for what they differ by, and a page that has never seen them compares alike", async () => {
  const { page, log, close } = await openDay();
  await type(page, box(page, "cooler.ua"), "60");
  const alone = await hash(page);
  await openPart(page, "compare");
  await keep(page);
  await tap(page, "nothing", "3");
  const both = await hash(page);
  assert.ok(both.length < alone.length + 300, `${alone.length} and ${both.length} characters`);
  await keep(page);
  await tap(page, "stall");
  await keep(page);
  await type(page, box(page, "air.temperature"), "70");
  const all = await hash(page);
  assert.ok(all.length <= 1500 && all.length > both.length, `${all.length} characters`);
  assert.equal(await text(page, "#link-long"), "");
  const other = await openDay({ path: all });
  await other.page.locator("#compare-variants > li").nth(3).waitFor();
  await settled(other.page);
  const compared = async (of) => [await named(of), await byDay(of, "#compare-rows"), await byDay(of, "#compare-numbers tbody:not(#compare-cursor)"), await changes(of, "D")];
  assert.deepEqual(await compared(other.page), await compared(page));
  assert.ok(await other.page.locator("#problem").isHidden());
  await other.page.reload();
  await ready(other.page);
  await settled(other.page);
  assert.deepEqual(await named(other.page), await named(page));
  quiet(log);
  quiet(other.log);
  await other.close();
  await close();
});

test("a link of before, with one kept day, opens; what a link replaces can be brought back; what it cannot hold is said", async () => {
  const { page, log, close } = await openDay();
  await type(page, box(page, "cooler.ua"), "60");
  await hash(page);
  const { scenario } = await kept(page);
  const a = structuredClone(scenario);
  a.setup.cooler.ua = "200 W/K";
  // As the page wrote it when it kept one day: { …, compared: A }.
  const old = await linkWith(page, { compared: a });
  const other = await openDay({ path: old });
  await other.page.locator("#compare-variants > li").nth(1).waitFor();
  await settled(other.page);
  assert.deepEqual(await changes(other.page, "B"), [["Cooler and fan: Cooler size (UA)", "200 W/K → 60 W/K"]]);
  quiet(other.log);
  await other.close();

  // Days that were kept here make way for the link's, and come back for a tap.
  await openPart(page, "compare");
  await keep(page);
  await tap(page, "fan");
  await keep(page);
  await tap(page, "stall");
  const mine = (await named(page)).slice(0, -1);
  await page.evaluate((to) => (location.hash = to), old);
  await page.waitForFunction(() => document.querySelectorAll("#compare-variants > li").length === 2);
  await settled(page);
  assert.deepEqual(await changes(page, "B"), [["Cooler and fan: Cooler size (UA)", "200 W/K → 60 W/K"]]);
  await page.reload();
  await ready(page);
  assert.equal(await text(page, "#again-day"), "Bring back what was kept before the link");
  await page.locator("#again-day").click();
  await settled(page);
  assert.deepEqual((await named(page)).slice(0, -1), mine);

  // Of what cannot be shown or computed the rest is opened.
  const bad = structuredClone(a);
  bad.timeline[0].duration = "a while";
  for (const [more, title, count] of [
    [{ compared: 7, beside: [a] }, /left out/, 2], [{ compared: a, beside: "B" }, null, 2], [{ compared: a, beside: [bad, 3] }, /left out/, 3], [{ compared: a, beside: [bad] }, /^B cannot be computed/, 3],
  ]) {
    const bent = await openDay({ path: await linkWith(page, more) });
    await bent.page.locator("#compare-variants > li").nth(count - 1).waitFor();
    await settled(bent.page);
    assert.equal((await named(bent.page)).length, count, JSON.stringify(more).slice(0, 60));
    if (title) assert.match(await text(bent.page, "#problem-text"), title);
    else assert.ok(await bent.page.locator("#problem").isHidden());
    quiet(bent.log);
    await bent.close();
  }
  quiet(log);
  await close();
});

test("days too long for the link stay at home, the last kept first, and that is said", async () => {
  const { page, log, close } = await openDay();
  await openPart(page, "compare");
  await keep(page);
  await tap(page, "nothing");
  await keep(page);
  // Text that no packing makes short.
  await page.evaluate(() => {
    const what = JSON.parse(localStorage.getItem("stallheat.what-if.1"));
    const long = structuredClone(what.days[1]);
    let [seed, note] = [1, ""];
    while (note.length < 1500) note += ((seed = (seed * 48271) % 2147483647) % 36).toString(36);
    long.note = note;
    localStorage.setItem("stallheat.what-if.1", JSON.stringify({ ...what, days: [...what.days, long] }));
  });
  await page.reload();
  await ready(page);
  await settled(page);
  await type(page, box(page, "cooler.ua"), "60");
  // Its part is made when the page has time.
  await page.locator("#compare-variants > li").nth(3).waitFor();
  assert.equal((await named(page)).length, 4);
  const link = await hash(page);
  assert.ok(link.length <= 1500);
  assert.equal(await text(page, "#link-long"), "The days to compare with are too long for the link: C is not in it.");
  const other = await openDay({ path: link });
  await other.page.locator("#compare-variants > li").nth(2).waitFor();
  assert.equal((await named(other.page)).length, 3);
  await other.close();
  await page.locator("[data-drop=C]").click();
  await hash(page);
  assert.equal(await text(page, "#link-long"), "");
  quiet(log);
  await close();
});

/** Runs every way at once and waits for the table; gives its rows as { key: [cells] }, and what is said. */
async function everyWay(page, round = "") {
  await page.locator("#what-if-compare .turnaround-ways select").selectOption(round);
  await page.locator("#every-run").click();
  await page.waitForFunction(() => document.querySelector("#every-stop").hidden && !document.querySelector("#every-table").hidden, null, { timeout: 60_000 });
  const found = await page.locator("#every-rows tr").evaluateAll((all) => all.map((row) => [row.dataset.way, [...row.cells].slice(1).map((cell) => cell.textContent)]));
  return { found: Object.fromEntries(found), said: await text(page, "#every-says"), best: await page.locator("#every-rows tr.best").getAttribute("data-way") };
}

test("every way at once: its rows are what the page says of each day once taken, the best has its reason, a tap is one entry", async () => {
  const { page, log, close } = await openDay();
  await openPart(page, "compare");
  const was = await launches(page);
  const low = 150, high = 170; // the example's window
  const off = (pan) => (pan < low ? low - pan : pan > high ? pan - high : 0);
  const { found, said, best } = await everyWay(page);
  assert.deepEqual(Object.keys(found), ["now", "nothing", "fan", "pan_loop", "through_converter", "idle"]);
  assert.equal(await undoable(page), "", "trying is no entry of undo");
  const worst = {};
  const used = {};
  for (const [key, [pan, converter, where, spread, ah]] of Object.entries(found)) {
    await page.locator(`#every-rows [data-way=${key}] button`).click();
    await settled(page);
    const now = await launches(page);
    const after = now.slice(1); // the first launch has no turnaround before it
    const hottest = after.reduce((one, other) => (other[1] > one[1] ? other : one));
    assert.equal(Number(pan), hottest[1], key);
    assert.ok(after.some(([one, other]) => other === hottest[1] && one === Number(converter)), key);
    assert.equal(`${spread} °F`, await text(page, "#key-spread"), key);
    worst[key] = Math.max(...after.map(([, one]) => off(one)));
    assert.equal(Number.parseInt(where, 10), worst[key], `${key}: ${where}`);
    const taken = await own(page);
    assert.ok(Math.abs(Number(ah) - taken.used) <= 0.35, `${key}: ${ah} and ${taken.used}`);
    used[key] = Number(ah);
    assert.equal(await page.locator(`#every-rows [data-way=${key}] button`).getAttribute("aria-pressed"), "true");
    assert.equal(await page.locator("#every-rows [aria-pressed=true]").count(), 1);
    if (key === "now") continue;
    assert.equal((await named(page))[0][1], "Saturday bracket day", "A is the day as it was");
    assert.match(await undoable(page), /every round$/);
    await undo(page);
    assert.deepEqual(await launches(page), was, "one entry");
    assert.ok(await page.locator("#every-table").isVisible(), "what was found still holds");
  }
  const least = Math.min(...Object.values(worst));
  const close_ = Object.keys(worst).filter((key) => worst[key] === least);
  assert.equal(used[best], Math.min(...close_.map((key) => used[key])));
  assert.equal(worst[best], least);
  const label = await page.locator(`#every-rows [data-way=${best}] button`).evaluate((node) => node.firstChild.textContent);
  assert.ok(said.includes(`${label}: `) && said.includes(`${least} °F`), said);
  assert.match(await text(page, `#every-rows [data-way=${best}] .drift`), /^best/);

  // Another day: what was found does not hold for it.
  await type(page, box(page, "air.temperature"), "60");
  assert.ok(await page.locator("#every-table").isHidden());
  assert.equal(await text(page, "#every-says"), "The day has changed: try every way again.");
  quiet(log);
  await close();
});

test("every way after one round: the next launch counts, after the last the turnaround's end; by keys, in either unit", async () => {
  const { page, log, close } = await openDay();
  await openPart(page, "compare");
  const { found, said, best } = await everyWay(page, "3");
  for (const [key, [pan, converter]] of Object.entries(found)) {
    await press(page, `#every-rows [data-way=${key}] button`);
    assert.deepEqual([converter, pan].map(Number), (await launches(page))[3], key);
  }
  assert.equal(found[best][2], "inside");
  const label = await page.locator(`#every-rows [data-way=${best}] button`).evaluate((node) => node.firstChild.textContent);
  const ah = Number(found[best][3]);
  assert.ok(said.startsWith(`${label}: pan at ${found[best][0]} °F at the next launch, in the window, ${ah > 0 ? `for ${found[best][3]} Ah of pump and fan` : "with pump and fan off"}.`), said);
  await page.locator("label[for=units-si]").click();
  await settled(page);
  assert.match(await text(page, "#every-says"), /°C/);
  const celsius = Number(await page.locator(`#every-rows [data-way=${best}] td`).first().textContent());
  assert.ok(Math.abs((Number(found[best][0]) - 32) / 1.8 - celsius) <= 0.8, `${celsius}`); // both are whole degrees
  await page.locator("label[for=units-us]").click();
  await settled(page);
  const end = await everyWay(page, "6");
  assert.match(end.said, /at the end of the turnaround/);
  await press(page, "#every-rows [data-way=fan] button");
  await page.locator("#table > summary").click();
  // The table is filled once it is open, which the browser tells a little later.
  await page.locator("#table-rows tr").first().waitFor();
  const pits = (await rows(page, "#table-rows")).filter((row) => row[1] === "6").at(-1);
  assert.deepEqual([end.found.fan[1], end.found.fan[0]], [pits[2], pits[3]]);
  quiet(log);
  await close();
});

test("the best way is the closest to the window, then the least out of the battery, and none that empties it", async () => {
  const { page, close } = await openDay();
  await withModules(page);
  const found = await page.evaluate(async () => {
    const { bestOf, outcome, reason, where } = await import(new URL("outcomes.js", document.querySelector("script[type=module]").src).href);
    const one = (side, degrees, used_ah, isLow = false) => ({ pan: 160, converter: 200, side, degrees, used_ah, isLow, spread: 5, isLaunch: true });
    const day = { window: [150, 170], temperature_unit: "°F" };
    const summary = {
      window: [150, 170], cautions: [{ key: "battery_low" }], spread_pan: 30, peaks: [{ node: "converter_fluid", temperature: 300 }],
      turnarounds: [{ round: 1, used_ah: 2 }, { round: 2, used_ah: 3 }],
      events: [{ round: 1, end_s: 10, pan: 1, converter: 1 }, { round: 2, end_s: 20, pan: 175.6, converter: 210 }],
      launches: [{ time_s: 1, pan: 100, converter: 100 }, { time_s: 15, pan: 140.4, converter: 190 }],
    };
    return {
      best: [
        [one(-1, 3, 0), one(1, 2, 9), null], // closer, whatever it takes
        [one(0, 0, 4), one(0, 0, 1.94), one(0, 0, 1.91)], // least, as it is shown; of equals the first
        [one(0, 0, 1, true), one(1, 20, 30)], // not the one that empties the battery
        [null, null],
      ].map(bestOf),
      words: [one(0, 0, 0), one(-1, 0, 0), one(1, 12, 0)].map(where),
      said: [
        reason(["X", "Y"], [one(0, 0, 1, true), one(1, 20, 30)], 1, 3, day),
        reason(["X", "Y"], [one(1, 5, 0), one(-1, 5, 1)], 0, null, day),
      ],
      all: outcome(summary, null), first: outcome(summary, 1), last: outcome(summary, 2),
    };
  });
  assert.deepEqual(found.best, [1, 1, 1, -1]);
  assert.deepEqual(found.words, ["inside", "just below", "12 above"]);
  assert.deepEqual(found.said, [
    "Y: pan at 160 °F at the next launch, 20 °F above the window, for 30.0 Ah of pump and fan. What comes closer takes the battery below its reserve.",
    "None of these brings every launch into the window of 150 to 170 °F. Closest: X: the launch furthest off 5 °F above the window, with pump and fan off. Of 2 that come as close it needs the least of them.",
  ]);
  const shared = { isLow: true, spread: 30 };
  // The launch of the first round has no turnaround before it.
  assert.deepEqual(found.all, { pan: 140.4, converter: 190, side: -1, degrees: 10, used_ah: 5, isLaunch: true, ...shared });
  assert.deepEqual(found.first, { pan: 140.4, converter: 190, side: -1, degrees: 10, used_ah: 2, isLaunch: true, ...shared });
  assert.deepEqual(found.last, { pan: 175.6, converter: 210, side: 1, degrees: 6, used_ah: 3, isLaunch: false, ...shared });
  await close();
});

test("a way that does not fit into a turnaround is said in its row, and the others stand", async () => {
  const { page, log, close } = await openDay();
  await type(page, box(page, "cooler.ua"), "100");
  await hash(page);
  const { scenario } = await kept(page);
  // Driving and passing take five minutes of it; no five are left to idle.
  scenario.timeline.find((entry) => entry.rounds).rounds[2] = "8 min";
  const other = await openDay({ path: await linkWith(page, { scenario }) });
  await openPart(other.page, "compare");
  for (const round of ["", "3"]) {
    const { found, best } = await everyWay(other.page, round);
    assert.equal(found.idle.length, 1);
    assert.match(found.idle[0], /^Not possible\. /);
    assert.notEqual(best, "idle");
    assert.ok(Object.entries(found).every(([key, row]) => key === "idle" || /^\d+$/.test(row[0])));
  }
  quiet(log);
  quiet(other.log);
  await other.close();
  await close();
});

test("a question about turnarounds is answered for a day that has none, too", async () => {
  const { page, log, close } = await openDay();
  await page.locator("#example").selectOption("dyno_bench_session");
  await settled(page);
  await page.locator(".question").fill("what if I shut down with the pump on");
  await page.locator(".question").press("Enter");
  await page.waitForFunction(() => document.querySelector(".ready-refused")?.textContent);
  assert.match(await text(page, ".ready-refused"), /no turnaround/);
  // Nothing was begun whose answer would come later.
  assert.ok(await page.locator("#every-stop").isHidden());
  await page.waitForTimeout(1500);
  assert.ok(await page.locator("#problem").isHidden());
  quiet(log);
  await close();
});

test("trying every way can be stopped, and a change of the day ends it", async () => {
  const { page, log, close } = await openDay();
  await openPart(page, "compare");
  await page.evaluate(() => {
    document.querySelector("#every-run").click();
    document.querySelector("#every-stop").click();
  });
  assert.equal(await text(page, "#every-says"), "Stopped.");
  assert.equal(await page.evaluate(() => document.activeElement.id), "every-run");
  await page.locator("#every-run").click();
  await page.evaluate(() => document.querySelector("[data-ready=cooler]").click());
  assert.equal(await text(page, "#every-says"), "The day has changed: try every way again.");
  await page.waitForTimeout(2000);
  assert.ok(await page.locator("#every-table").isHidden());
  assert.ok(await page.locator("#every-stop").isHidden());
  quiet(log);
  await close();
});

test("a move of a slider computes the edited day alone, what is dropped is freed, and a fresh core has the kept days again", async () => {
  const { page, close } = await site.open({ path: null });
  await page.route("**/core/stallheat.js*", async (route) => {
    const response = await route.fetch();
    const body = `${await response.text()}
      globalThis.alive ??= 0;
      globalThis.computed ??= 0;
      const { simulate } = Day;
      const { free } = Day.prototype;
      Day.simulate = (text) => {
        if (globalThis.trap) {
          globalThis.trap = false;
          globalThis.alive = 0;
          throw new WebAssembly.RuntimeError("unreachable");
        }
        const day = simulate(text);
        globalThis.alive += 1;
        globalThis.computed += 1;
        return day;
      };
      Day.prototype.free = function () { globalThis.alive -= 1; return free.call(this); };`;
    await route.fulfill({ response, body });
  });
  await page.goto(site.url);
  await ready(page);
  await openPart(page, "compare");
  const count = () => page.evaluate(() => [globalThis.computed, globalThis.alive]);
  const [, first] = await count();
  for (const key of ["nothing", "cooler", "hold"]) {
    await keep(page);
    await tap(page, key);
  }
  const [before, alive] = await count();
  assert.equal(alive, first + 4, "three kept, the edited one beside that as opened");
  await slider(page, "cooler.ua").focus();
  for (let move = 0; move < 5; move += 1) {
    await page.keyboard.press("ArrowRight");
    await settled(page);
  }
  assert.deepEqual(await count(), [before + 5, alive]);
  const table = await byDay(page, "#compare-rows");
  const shown = await named(page);
  // The core stops at the next change, an entry of its own, and comes back with all of them.
  await page.waitForTimeout(1200);
  await page.evaluate(() => (globalThis.trap = true));
  await page.keyboard.press("ArrowRight");
  await page.waitForFunction(() => /computation stopped/.test(document.querySelector("#problem-title").textContent));
  await page.waitForTimeout(300);
  await undo(page);
  await settled(page);
  assert.deepEqual(await named(page), shown);
  assert.deepEqual(await byDay(page, "#compare-rows"), table);
  const [, again] = await count();
  for (const letter of ["C", "B", "A"]) await page.locator(`[data-drop=${letter}]`).click();
  await settled(page);
  assert.equal((await count())[1], again - 3);
  await close();
});

test("axe finds nothing to mend with four days and every way, nothing is wider than the page, light and dark, narrow and wide", async () => {
  for (const [width, colorScheme] of [[320, "light"], [360, "light"], [360, "dark"], [1280, "light"], [1280, "dark"]]) {
    const { page, log, close } = await openDay({ width, height: 900, colorScheme, reducedMotion: "reduce" });
    await openPart(page, "compare");
    await tap(page, "nothing", "2");
    await keep(page);
    await tap(page, "idle");
    await keep(page);
    await tap(page, "stall");
    for (const letter of ["B", "C"]) await page.locator(`[data-variant=${letter}] summary`).click();
    await show(page, "et");
    await everyWay(page);
    await page.evaluate(axeSource);
    const violations = await page.evaluate(async () => {
      scrollTo(0, 0);
      const { violations: found } = await window.axe.run("#what-if", { rules: { "target-size": { enabled: true } } });
      return found.map(({ id, nodes }) => [id, nodes.slice(0, 3).map((node) => node.html.slice(0, 160))]);
    });
    assert.deepEqual(violations, [], `${width} ${colorScheme}`);
    assert.ok(await page.evaluate(() => document.documentElement.scrollWidth) <= width, `wider than ${width}`);
    const cut = await page.locator("#what-if-compare :is(td, th, button, select)").evaluateAll((all) =>
      all.filter((one) => one.offsetParent && one.scrollWidth > one.clientWidth + 1).map((one) => one.outerHTML.slice(0, 80)));
    assert.deepEqual(cut, [], `cut off at ${width}`);
    const small = await page.locator("#what-if-compare :is(button, select, summary)").evaluateAll((all) =>
      all.filter((one) => one.offsetParent && one.getBoundingClientRect().height < 43.5).map((one) => one.outerHTML.slice(0, 80)));
    assert.deepEqual(small, [], "targets of 44 px");
    await screenshot(page, `compare-${width}-${colorScheme}`);
    quiet(log);
    await close();
  }
});
