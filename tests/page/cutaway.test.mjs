// The cut-away and the player: what is drawn at the cursor is what the chart's legend, the switches and the table
// say, and playing moves the cursor until there is a reason to stop.

import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { axeSource, openDayOf, ready, screenshot, settled, startSite } from "./harness.mjs";

let site;
before(async () => (site = await startSite()));
after(() => site?.close());

const openDay = (options) => openDayOf(site, options);
const says = (page) => page.locator(".cutaway-says").textContent();
const cursor = async (page) => Number(await page.locator("#cursor").getAttribute("aria-valuenow"));
const press = async (page, key) => {
  await page.locator(`[data-play=${key}]`).click();
  await settled(page);
};
const flowing = (page) => page.locator(".stream.flowing").evaluateAll((all) => all.map((line) => line.dataset.of).sort());
const numberIn = (text) => Number(text.replace(/[^0-9.-].*$/, ""));

/** The first pass's start, and from it by events of the example day: −1 the hold, +3 the pits. */
async function goTo(page, events) {
  await page.locator("#cursor").focus();
  await page.keyboard.press("Home");
  await press(page, "launch");
  for (let i = 0; i < Math.abs(events); i += 1) await press(page, events < 0 ? "previous" : "next");
}

test("the numbers on the parts are the legend's, and the colour is that of the temperature", async () => {
  const { page, log, close } = await openDay();
  for (const events of [-1, 0, 1, 3]) {
    await goTo(page, events);
    const legend = await page.locator(".legend .entry").evaluateAll((all) =>
      all.map((entry) => [entry.dataset.node, entry.querySelector(".value").textContent]));
    const parts = await page.locator(".degrees").evaluateAll((all) => all.map((one) => [one.dataset.degrees, one.textContent]));
    assert.equal(parts.length, 7);
    for (const [key, value] of legend) {
      assert.equal(String(numberIn(parts.find(([node]) => node === key)[1])), value, `${key} after ${events} events`);
    }
  }
  await goTo(page, 0);
  const fills = await page.locator(".drawing .piece").evaluateAll((all) => all.map((one) => [one.dataset.part, one.getAttribute("fill")]));
  const fill = (node) => fills.find(([key]) => key === node)[1];
  // At a launch the converter is tens of degrees hotter than the case; parts of one node are alike.
  assert.notEqual(fill("converter_fluid"), fill("case"));
  assert.equal(new Set(fills.filter(([key]) => key === "gear_train").map(([, one]) => one)).size, 1);
  const green = (node) => Number(fill(node).match(/\d+/g)[1]);
  assert.ok(green("converter_fluid") < green("case"), `${fill("converter_fluid")} is not darker than ${fill("case")}`);
  assert.deepEqual([log.console, log.errors], [[], []]);
  await close();
});

test("streams, fan and caption follow engine, pump and route", async () => {
  const { page, close } = await openDay();
  await goTo(page, -1);
  assert.deepEqual(await flowing(page), ["front", "front", "front pan_loop", "front through_converter"]);
  assert.match(await says(page), /^Held on the brake, round 1: \d+ hp of shear in the converter; pump and fan off\.$/);
  assert.equal(await page.locator(".blower.runs, .circulator.runs").count(), 0);
  const shear = await page.locator("[data-rate=converter_shear]").textContent();
  assert.ok((await says(page)).includes(shear), `${shear} in the caption`);

  await goTo(page, 3);
  assert.deepEqual(await flowing(page), ["front through_converter", "pan_loop through_converter cooler_first", "through_converter", "through_converter"]);
  assert.match(await says(page), /^Pits, round 1: .*pump on: \d\.\d gpm, through the converter; fan on\.$/);
  assert.equal(await page.locator(".blower.runs, .circulator.runs").count(), 2);
  assert.equal(await page.locator("[data-rate=converter_shear]").textContent(), "");

  // Before the first engine start nothing flows.
  await page.locator("#cursor").focus();
  await page.keyboard.press("Home");
  await settled(page);
  assert.deepEqual(await flowing(page), []);
  assert.match(await says(page), /hardly any heat moves; pump and fan off/);
  await close();
});

test("the arrow of a larger rate is wider, and nothing is built anew as the cursor moves", async () => {
  const { page, close } = await openDay();
  await page.evaluate(() => {
    window.made = 0;
    new MutationObserver((records) => {
      for (const record of records) window.made += [...record.addedNodes].filter((node) => node.nodeType === 1).length;
    }).observe(document.querySelector(".drawing"), { childList: true, subtree: true });
  });
  const width = (key) => page.locator(`[data-heat=${key}]`).evaluate((node) => node.getBBox().width);
  await goTo(page, -1);
  const held = await width("converter_shear");
  await goTo(page, 2);
  const returning = await width("converter_shear");
  assert.ok(held > 2 * returning, `${held} against ${returning}`);
  assert.equal(await page.evaluate(() => window.made), 0);
  await close();
});

test("the table has what the picture shows, in either system of units", async () => {
  const { page, close } = await openDay();
  await page.locator("#cutaway-table > summary").click();
  for (const [units, power, degrees] of [["us", "hp", "°F"], ["si", "kW", "°C"]]) {
    await page.locator(`label[for=units-${units}]`).click();
    for (const events of [-1, 3]) {
      await goTo(page, events);
      const tables = await page.locator("#cutaway-table tbody").evaluateAll((all) =>
        all.map((body) => [...body.rows].map((row) => [...row.cells].map((cell) => cell.textContent))));
      const shown = await page.locator(".degrees").allTextContents();
      const listed = tables[0].map(([, value]) => value);
      assert.deepEqual(shown.map((one) => one.replace(/\s/g, "")).sort(), listed.slice(0, 7).map((one) => one.replace(/\s/g, "")).sort());
      assert.ok(listed.every((value) => value.endsWith(degrees)), listed.join());
      // All paths, then three sums that close.
      assert.equal(tables[1].length, 21 + 3);
      const rates = tables[1].map(([, , value]) => value);
      assert.ok(rates.every((value) => value.endsWith(power)), rates.join());
      const [made, away, stored] = rates.slice(-3).map(numberIn);
      // Three numbers of about three digits each.
      assert.ok(Math.abs(made - away - stored) <= 0.01 * Math.max(1, Math.abs(made), Math.abs(away)), `${made} ${away} ${stored}`);
      for (const key of ["converter_shear", "cooler_air"]) {
        const drawn = await page.locator(`[data-rate=${key}]`).textContent();
        if (drawn) assert.ok(rates.includes(drawn), `${drawn} of ${key} in the table`);
      }
      const flows = Object.fromEntries(tables[2]);
      assert.equal(flows.Fan, events === 3 ? "on" : "off");
      assert.equal(flows["Its route"], events === 3 ? "Through the converter" : "off");
    }
  }
  await close();
});

test("in a computed pass speeds and slip stand in the caption and the table", async () => {
  const { page, close } = await openDay();
  await page.locator("#example").selectOption("test_and_tune_evening");
  await settled(page);
  await page.locator("#cutaway-table > summary").click();
  await goTo(page, 0);
  assert.match(await says(page), /\d+ rpm, \d+ % slip, \d+ mph/);
  const names = await page.locator("#cutaway-table tbody th").allTextContents();
  assert.ok(names.includes("Turbine") && names.includes("Gear"));
  await close();
});

test("playing moves the cursor and stops at the end, at an edit and when the reader moves it", async () => {
  const { page, close } = await openDay();
  const toggle = page.locator("[data-play=toggle]");
  const moves = (from) => page.waitForFunction((was) => Number(document.querySelector("#cursor").getAttribute("aria-valuenow")) > was, from);
  await page.locator("#cursor").focus();
  await page.keyboard.press("Home");
  await toggle.focus();
  await page.keyboard.press("Space");
  assert.equal(await toggle.textContent(), "Pause");
  await moves(0);
  await page.keyboard.press("Space");
  assert.equal(await toggle.textContent(), "Play");
  const stood = await cursor(page);
  await page.waitForTimeout(150);
  assert.equal(await cursor(page), stood);
  // The whole player answers to the space bar.
  await page.locator("#player").focus();
  await page.keyboard.press("Space");
  assert.equal(await toggle.textContent(), "Pause");
  await moves(stood);
  await page.locator("#cursor").focus();
  await page.keyboard.press("ArrowRight");
  assert.equal(await toggle.textContent(), "Play");
  await toggle.click();
  await page.locator('.control[data-path="cooler.ua"] input.number').fill("150");
  await page.keyboard.press("Enter");
  await settled(page);
  assert.equal(await toggle.textContent(), "Play");
  // From near the end it runs to the end and stays there.
  await page.locator("#cursor").focus();
  await page.keyboard.press("End");
  for (let i = 0; i < 2; i += 1) await page.keyboard.press("ArrowLeft");
  await page.locator("#player select").selectOption({ label: "Fast" });
  await toggle.click();
  await page.waitForFunction(() => document.querySelector("[data-play=toggle]").textContent === "Play");
  const end = Number(await page.locator("#cursor").getAttribute("aria-valuemax"));
  assert.equal(await cursor(page), end);
  await close();
});

test("stopping ends no timer where the player plays by frames", async () => {
  const { page, close } = await site.open({ path: null });
  await page.addInitScript(() => {
    // Frames and timers are counted apart: the number of a frame may be that of somebody's timer.
    const clear = window.clearTimeout;
    window.ended = [];
    window.clearTimeout = (number) => {
      window.ended.push({ number, by: new Error().stack.includes("stop") ? "player" : "another" });
      clear(number);
    };
  });
  await page.goto(site.url);
  await ready(page);
  const toggle = page.locator("[data-play=toggle]");
  for (let turn = 0; turn < 3; turn += 1) {
    await toggle.click();
    await page.waitForTimeout(50);
    await toggle.click();
    assert.equal(await toggle.textContent(), "Play");
  }
  // It plays by frames here, and has set no timer.
  const ended = (await page.evaluate(() => window.ended)).filter(({ by }) => by === "player");
  assert.equal(ended.length, 3);
  assert.deepEqual(ended.map(({ number }) => number), [0, 0, 0]);
  await close();
});

test("with reduced motion nothing is animated, and playing steps from event to event", async () => {
  const { page, close } = await openDay({ reducedMotion: "reduce" });
  const animations = () => page.evaluate(() => document.querySelector(".drawing").getAnimations({ subtree: true }).length);
  await goTo(page, 3);
  await page.locator(".drawing").scrollIntoViewIfNeeded();
  assert.ok((await flowing(page)).length > 0);
  assert.equal(await animations(), 0);
  await goTo(page, -1);
  await page.locator("[data-play=toggle]").click();
  const label = () => page.locator(".moment").textContent();
  assert.match(await label(), /brake/);
  await page.waitForFunction(() => /Pass/.test(document.querySelector(".moment").textContent), null, { timeout: 3000 });
  await press(page, "toggle");
  await close();

  const lively = await openDay();
  await goTo(lively.page, 3);
  await lively.page.locator(".drawing").scrollIntoViewIfNeeded();
  await lively.page.waitForFunction(() => document.querySelector(".drawing").getAnimations({ subtree: true }).length > 3);
  await lively.close();
});

test("axe finds nothing to mend in cut-away and player, and both fit", async () => {
  for (const width of [320, 360, 1280]) {
    for (const colorScheme of ["light", "dark"]) {
      const { page, close } = await openDay({ width, height: 900, colorScheme, reducedMotion: "reduce" });
      await goTo(page, 3);
      await page.locator("#cutaway-table > summary").click();
      await page.evaluate(axeSource);
      const found = await page.evaluate(async () => {
        const { violations } = await window.axe.run({ include: [["section.cutaway"], ["#player"]] }, { rules: { "target-size": { enabled: true } } });
        return violations.map(({ id, nodes }) => [id, nodes.map((node) => node.html.slice(0, 120))]);
      });
      assert.deepEqual(found, [], `${width} ${colorScheme}`);
      assert.equal(await page.evaluate(() => document.documentElement.scrollWidth - innerWidth), 0, `at ${width} px`);
      const small = await page.locator("#player button, #player select").evaluateAll((all) =>
        all.filter((one) => one.getBoundingClientRect().height < 44 || one.getBoundingClientRect().width < 44).length);
      assert.equal(small, 0);
      const drawing = await page.locator(".drawing").boundingBox();
      const least = await page.locator(".drawing text").evaluateAll((all) => Math.min(...all.map((one) => Number.parseFloat(getComputedStyle(one).fontSize)))) * drawing.width / 400;
      assert.ok(least > 8, `letters of ${least.toFixed(1)} px at ${width} px`);
      await screenshot(page, `cutaway-${width}-${colorScheme}`);
      await close();
    }
  }
});
