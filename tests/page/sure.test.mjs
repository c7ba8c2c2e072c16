// How sure: the tornado of the page against what `stallheat band --json` says of the same day.

import assert from "node:assert/strict";
import { execFileSync } from "node:child_process";
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { after, before, test } from "node:test";
import { findViolations, openDayOf, openPart, press, quiet, root, startSite, tableRows } from "./harness.mjs";

let site;
before(async () => (site = await startSite()));
after(() => site?.close());

test("the bars have the numbers of the command line", async () => {
  const program = process.env.STALLHEAT_BIN ?? join(root, "target/release/stallheat");
  const { tornado } = JSON.parse(execFileSync(program, ["band", join(root, "scenarios/saturday_bracket_day.json"), "--json"]));
  const { page, log, close } = await openDayOf(site, {});
  await openPart(page, "band");
  await press(page, "#band-draw");
  await page.locator("#band-bars tr").nth(7).waitFor({ timeout: 60_000 });
  const paths = await page.locator("[data-bar]").evaluateAll((all) => all.map((one) => one.dataset.bar));
  const bars = tornado.last_pan_c.bars.slice(0, 8);
  assert.deepEqual(paths, bars.map((bar) => bar.parameter));
  // Shown in tenths of a degree Fahrenheit; wasm and native differ by rounding.
  (await tableRows(page, "#band-bars")).forEach((row, at) => row.slice(1).forEach((cell, end) =>
    assert.ok(Math.abs(Number(cell) - (bars[at].measure_at_ends[end] * 1.8 + 32)) < 0.06, `${row}`)));
  quiet(log);
  await close();
});

test("the sentence names what matters most; another measure, all bars, a bar's curves, another number of days", async () => {
  const { page, log, close } = await openDayOf(site, {});
  await openPart(page, "band");
  await press(page, "#band-draw");
  await page.locator("#band-bars tr").nth(7).waitFor({ timeout: 60_000 });
  const names = () => page.locator("[data-bar]").allTextContents();
  const [first] = (await names()).map((name) => name.split(": ")[1]);
  const says = await page.locator("#band-says").textContent();
  assert.ok(says.includes(`Most of that is ${first.charAt(0).toLowerCase()}${first.slice(1)}`), says);
  // Bars grow shorter, on their own scale, and reach from where the day stands.
  const lengths = await page.locator("#band-bars tr").evaluateAll((rows) => rows.map((row) => Math.max(...[...row.querySelectorAll(".tornado-low, .tornado-high")].map((bar) => bar.getBoundingClientRect().width))));
  assert.ok(lengths[0] > 2 * lengths[7] && lengths.every((length) => length <= lengths[0] + 1), `${lengths}`);

  await page.locator("#tornado-more").click();
  assert.ok((await names()).length > 20);
  await page.locator("#tornado-measure").selectOption("last_elapsed");
  assert.match(await page.locator("#band-matters caption").textContent(), /in s: \d+\.\d{3} as stated/);
  await page.locator("label[for=units-si]").click();
  await page.locator("#tornado-measure").selectOption("converter_peak");
  assert.match(await page.locator("#band-matters caption").textContent(), /in °C: \d+\.\d as stated/);

  const [path] = await page.locator("[data-bar]").evaluateAll((all) => all.map((one) => one.dataset.bar));
  await page.locator("[data-bar]").first().click();
  await page.waitForFunction(() => document.querySelector("#family-says")?.textContent.includes("peak goes from"));
  assert.equal(await page.locator("#what-if-family select").first().inputValue(), path);

  await page.locator("#what-if-band select").first().selectOption("1000");
  await press(page, "#band-draw");
  await page.locator("#band-stop").waitFor();
  await page.locator("#band-stop").click();
  assert.equal(await page.locator("#band-says").textContent(), "Stopped; no band is drawn.");
  assert.ok(await page.locator("#band-matters").isHidden());
  quiet(log);
  await close();
});

test("several workers give the same band as one", async () => {
  const { page, log, close } = await openDayOf(site, {});
  const day = readFileSync(join(root, "scenarios/saturday_bracket_day.json"), "utf8");
  const both = await page.evaluate(async (text) => {
    const address = document.querySelector("script[type=module]").src.replace(/main\.js$/, "job-worker.js");
    const run = (workers) => new Promise((resolve, reject) => {
      const worker = new Worker(address, { type: "module" });
      worker.onmessage = ({ data }) => {
        if (!data.result && !data.error) return;
        worker.terminate();
        if (data.error) reject(new Error(data.error));
        else resolve(JSON.stringify([data.result.launches, data.result.peaks, data.result.tornado, [...data.result.nodes.pan_fluid.low_k]]));
      };
      worker.postMessage({ kind: "sure", workers, day: text, nodes: ["pan_fluid"], times_s: Float64Array.of(3600, 9000, 20000), draws: 60, known: [] });
    });
    return [await run(1), await run(3)];
  }, day);
  assert.ok(both[0].length > 1000);
  assert.equal(both[0], both[1]);
  quiet(log);
  await close();
});

for (const [width, colorScheme] of [[1280, "light"], [320, "dark"]]) {
  test(`axe finds nothing in the bars at ${width} px, ${colorScheme}, and nothing is cut off`, async () => {
    const { page, log, close } = await openDayOf(site, { width, height: 900, colorScheme });
    await openPart(page, "band");
    await press(page, "#band-draw");
    await page.locator("#band-bars tr").nth(7).waitFor({ timeout: 60_000 });
    assert.deepEqual(await findViolations(page), []);
    assert.ok(await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth));
    quiet(log);
    await close();
  });
}
