// The bench sheet on the page: a record opened, judged, printed on one page; typed in, kept over a reload, saved and opened
// again; wrong entries say what is wrong and lose nothing.

import assert from "node:assert/strict";
import { mkdirSync, readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { after, before, test } from "node:test";
import { findViolations, openDayOf, quiet, ready, root, screenshot, settled, startSite, text } from "./harness.mjs";

let site;
before(async () => (site = await startSite()));
after(() => site?.close());

const EXAMPLE = join(root, "scenarios/bench_tests/unit_0417.json");
const record = () => JSON.parse(readFileSync(EXAMPLE, "utf8"));
const KEY = "stallheat.bench.1";

/** Opens the part; printing does nothing but be counted. */
async function open(options = {}) {
  const opened = await openDayOf(site, options);
  await openPart(opened.page);
  return opened;
}
async function openPart(page) {
  await page.evaluate(() => {
    window.prints = 0;
    window.print = () => { window.prints += 1; };
  });
  if (!await page.locator("#bench-part").evaluate((node) => node.open)) await page.locator("#bench-part > summary").click();
  await page.locator('[data-bench="unit.number"]').waitFor();
}
const openFile = (page, name, value) => page.locator("#bench-file").setInputFiles({ name, mimeType: "application/json", buffer: Buffer.from(typeof value === "string" ? value : JSON.stringify(value)) });
const judged = (page) => page.waitForFunction(() => !document.querySelector("#bench-print").disabled, null, { timeout: 120_000 });
async function openExample(page, value = record()) {
  await openFile(page, "unit_0417.json", value);
  await judged(page);
}
const titles = (page) => page.locator("#bench-causes strong").allTextContents();
const keptBench = (page) => page.evaluate((key) => JSON.parse(localStorage.getItem(key)), KEY);
/** Pages of a PDF as Chromium writes it: its page objects are not compressed. */
const pagesOf = (pdf) => (pdf.toString("latin1").match(/\/Type\s*\/Page\b(?!s)/g) ?? []).length;

test("a record opened is judged: causes, bands, chart, and what was typed is in the form", async () => {
  const { page, log, close } = await open();
  await openExample(page);
  const found = await titles(page);
  assert.deepEqual(found.filter((title) => /drags in the gear train|falls in high/.test(title)).length, 2, found.join(" "));
  assert.match(await text(page, "#bench-says"), /readings lie in the band of what is expected/);
  assert.equal(await page.locator('[data-bench="unit.number"]').inputValue(), "0417");
  assert.equal(await page.locator(".bench-table tbody tr").count(), record().readings.length + record().pressures.length);
  assert.doesNotMatch(await text(page, "#bench-part"), /\b(passed|failed|PASS|FAIL)\b/);
  // The same in the reader's other units, and marked as old until it is computed anew.
  await page.locator('[data-bench="unit.work"]').fill("Something else");
  assert.ok(await page.locator("#bench-print").isDisabled());
  assert.match(await text(page, "#bench-says"), /has changed/);
  await page.locator("#bench-go").click();
  await judged(page);
  assert.deepEqual(await titles(page), found);
  quiet(log);
  await close();
});

test("the sheet prints on one page, Letter and A4, with everything on it", async () => {
  const { page, log, close } = await open();
  const long = record();
  long.remarks = "A line of remarks with <b>marks</b> & signs. ".repeat(6).trim();
  await openExample(page, long);
  await page.locator("#bench-print").click();
  assert.equal(await page.evaluate(() => window.prints), 1);
  mkdirSync(join(root, "target/screenshots"), { recursive: true });
  for (const format of ["Letter", "A4"]) {
    const pdf = await page.pdf({ format, preferCSSPageSize: false });
    writeFileSync(join(root, `target/screenshots/bench-sheet-${format}.pdf`), pdf);
    assert.equal(pagesOf(pdf), 1, format);
  }
  await page.emulateMedia({ media: "print" });
  const visible = await page.locator(".bench-paper").innerText();
  for (const words of ["0417", "A. Example", "Temperatures", "Pressures", "Remarks", "<b>marks</b> & signs.", "burn skin", "passes or fails no unit", "Technician", "Date"]) {
    assert.ok(visible.toLowerCase().includes(words.toLowerCase()), words);
  }
  assert.equal(await page.locator(".bench-paper svg").count(), 1);
  // All the rest of the page stays off the paper, and nothing sticks out of the sheet.
  assert.deepEqual(await page.evaluate(() => [...document.body.children].filter((node) => node.offsetHeight > 0).map((node) => node.className)), ["bench-paper"]);
  await page.setViewportSize({ width: 720, height: 1000 });
  const wide = await page.locator(".bench-sheet").evaluate((sheet) => [...sheet.querySelectorAll("*")].filter((node) => node.getBoundingClientRect().right > sheet.getBoundingClientRect().right + 1).map((node) => node.outerHTML.slice(0, 80)));
  assert.deepEqual(wide, []);
  await screenshot(page, "bench-sheet-paper");
  await page.emulateMedia({ media: "screen" });
  await page.evaluate(() => dispatchEvent(new Event("afterprint")));
  assert.equal(await page.locator(".bench-paper").count(), 0);
  assert.ok(await page.locator("#bench-part").isVisible());
  quiet(log);
  await close();
});

test("typed in on a phone: fields, steps, pressures; kept over a reload, saved, opened again", async () => {
  const { page, log, close } = await open({ width: 360, height: 780, hasTouch: true });
  await page.locator('[data-bench="unit.number"]').fill("0512");
  await page.locator('[data-bench="customer.name"]').fill("Sample & Sons");
  await page.locator("#bench-steps > summary").tap();
  for (const key of ["level.as_expected", "brake_cold.not_as_expected"]) {
    const label = page.locator(`label[for="${await page.locator(`[data-check="${key}"]`).getAttribute("id")}"]`);
    const { height } = await label.boundingBox();
    assert.ok(height >= 44, `${key}: ${height} px`);
    await label.tap();
  }
  await page.locator('[data-note="brake_cold"]').fill("creeps a little");
  for (const [place, [time, gear, shown]] of [["3:00", "low", "195 psi"], ["3:30", "high", "190 psi"]].entries()) {
    await page.locator("#bench-add-pressure").tap();
    await page.locator(`[data-pressure="${place}.time"]`).fill(time);
    await page.locator(`[data-pressure="${place}.gear"]`).fill(gear);
    await page.locator(`[data-pressure="${place}.shown"]`).fill(shown);
  }
  await page.locator('[data-bench="remarks"]').fill("First line\nsecond line");
  const before = await keptBench(page);
  assert.equal(before.checks.brake_cold.note, "creeps a little");
  assert.equal(before.pressures.length, 2);
  await page.reload();
  await ready(page);
  await openPart(page);
  assert.deepEqual(await keptBench(page), before);
  assert.equal(await page.locator('[data-pressure="1.shown"]').inputValue(), "190 psi");
  const [download] = await Promise.all([page.waitForEvent("download"), page.locator("#bench-save").tap()]);
  assert.match(download.suggestedFilename(), /^0512.*\.json$/);
  const saved = JSON.parse(readFileSync(await download.path(), "utf8"));
  assert.deepEqual([saved.record, saved.unit.number, saved.checks.level.result, saved.remarks], ["bench_test", "0512", "as_expected", "First line\nsecond line"]);
  // A new one, and the old one back.
  await page.locator("#bench-new").tap();
  assert.equal(await page.locator('[data-bench="unit.number"]').inputValue(), "");
  await page.locator("#bench-new").tap();
  assert.deepEqual(await keptBench(page), before);
  await page.locator("#bench-new").tap();
  await openExample(page, saved);
  assert.equal(await page.locator('[data-bench="customer.name"]').inputValue(), "Sample & Sons");
  assert.equal((await keptBench(page)).pressures.length, 2);
  quiet(log);
  await close();
});

test("what cannot be read says what is wrong, and what stands in the form stays", async () => {
  const { page, log, close } = await open();
  await page.locator('[data-bench="unit.number"]').fill("0600");
  const bad = [
    ["cut.json", readFileSync(EXAMPLE, "utf8").slice(0, 500), /not JSON: it may be cut short/],
    ["day.json", record().scenario, /not the record of a bench test/],
    ["gauge.json", { ...record(), pressures: [{ time: "3:00", port: "line", shown: "195" }] }, /pressures\[0\]\.shown.*psi/],
    ["late.json", { ...record(), format: 2 }, /format 1/],
  ];
  for (const [name, value, words] of bad) {
    await openFile(page, name, value);
    await page.waitForFunction((source) => new RegExp(source).test(document.querySelector("#bench-says").textContent), words.source);
    assert.equal(await page.locator('[data-bench="unit.number"]').inputValue(), "0600", name);
  }
  await page.locator("#bench-add-pressure").click();
  await page.locator('[data-pressure="0.time"]').fill("2:00");
  await page.locator('[data-pressure="0.shown"]').fill("195");
  await page.locator("#bench-go").click();
  await page.waitForFunction(() => /pressures\[0\]\.shown/.test(document.querySelector("#bench-says").textContent));
  assert.equal(await page.locator('[data-pressure="0.shown"]').inputValue(), "195");
  quiet(log);
  await close();
});

for (const [width, colorScheme] of [[320, "light"], [360, "dark"], [1280, "light"], [1280, "dark"]]) {
  test(`filled in, at ${width} px, ${colorScheme}: nothing sticks out, axe finds nothing`, async () => {
    const { page, log, close } = await open({ width, height: 800, colorScheme });
    await openExample(page);
    await page.locator("#bench-steps > summary").click();
    await settled(page);
    assert.ok(await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth), "no sideways scrolling");
    assert.deepEqual(await findViolations(page), []);
    const part = page.locator("#bench-part");
    await part.screenshot({ path: await screenshot(page, `bench-${width}-${colorScheme}`).then((path) => path.replace(".png", "-part.png")) });
    quiet(log);
    await close();
  });
}
