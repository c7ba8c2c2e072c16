// The bench sheet: a record filled in on the page, judged, printed on one page, saved and opened again.
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { after, before, test } from "node:test";
import { findViolations, kept, openDayOf, quiet, ready, root, screenshot, settled, startSite, text } from "./harness.mjs";

const EXAMPLE = join(root, "scenarios/bench_tests/unit_0417.json");

let site;
before(async () => (site = await startSite()));
after(() => site?.close());

/** Opens the page with the bench sheet unfolded. */
async function openBench(options) {
  const opened = await openDayOf(site, options);
  await opened.page.locator("#bench-part > summary").focus();
  await opened.page.keyboard.press("Enter");
  await opened.page.locator("[data-bench='unit.number']").waitFor();
  return opened;
}

async function openExample(page) {
  await page.locator("#bench-file").setInputFiles(EXAMPLE);
  await page.locator("#bench-causes li").first().waitFor();
  await settled(page);
}

/** Pages of what the browser prints, and the file. */
async function printed(page, path, format) {
  // The print dialogue of the page is the browser's; here the paper stays until the file is made.
  await page.evaluate(() => {
    window.print = () => null;
  });
  await page.locator("#bench-print").click();
  const pdf = await page.pdf({ path, format });
  return (pdf.toString("latin1").match(/\/Type\s*\/Page\b/g) ?? []).length;
}

test("a record is opened, judged as the command line does, printed on one page, and saved as it was", async () => {
  const { page, log, close } = await openBench();
  await openExample(page);
  assert.match(await text(page, "#bench-says"), /^16 of 32 readings lie in the band of what is expected, 15 above it, 1 below it\./);
  const causes = await page.locator("#bench-causes li").allTextContents();
  assert.match(causes[0], /^Something drags in the gear train\./);
  assert.match(causes[1], /^Line pressure falls in high\./);
  assert.equal(await page.locator("[data-bench='customer.name']").inputValue(), "A. Example");
  assert.equal(await text(page, "#day-name"), "Unit 0417, two-speed with brake");
  assert.equal((await kept(page)).readings.rows.length, 24);
  for (const format of ["Letter", "A4"]) {
    assert.equal(await printed(page, join(root, `target/bench-sheet-${format}.pdf`), format), 1, format);
    await page.evaluate(() => dispatchEvent(new Event("afterprint")));
  }
  assert.equal(await page.locator(".bench-paper").count(), 0);
  const [download] = await Promise.all([page.waitForEvent("download"), page.locator("#bench-save").click()]);
  const [was, is] = [JSON.parse(readFileSync(EXAMPLE, "utf8")), JSON.parse(readFileSync(await download.path(), "utf8"))];
  for (const key of ["unit", "customer", "tested", "checks", "pressures", "readings", "remarks", "scenario"]) assert.deepEqual(is[key], was[key], key);
  // A reading that the fit leaves out stays in the record.
  await page.locator("#readings-part > summary").click();
  await page.locator("#reading-list [data-at='0'][data-act='out']").click();
  await page.locator("#bench-go").click();
  await page.waitForFunction(() => document.querySelector("#bench-says").textContent !== "");
  assert.match(await text(page, "#bench-says"), /^16 of 32 readings/);
  quiet(log);
  await close();
});

test("typed by finger on a phone: who, a step that is not as expected, a pressure; kept over a reload; a change makes it old", async () => {
  const { page, log, close } = await openBench({ width: 360, height: 740, hasTouch: true, isMobile: true });
  await page.locator("[data-bench='unit.number']").fill("0899");
  await page.locator("#bench-steps > summary").tap();
  await page.locator("[data-check='noise_hot.not_as_expected'] + label").tap();
  await page.locator("[data-note='noise_hot']").fill("rumble in high");
  await page.locator("[data-check='level.as_expected'] + label").tap();
  await page.locator("#bench-add-pressure").tap();
  await page.locator("[data-pressure='0.time']").fill("8:00");
  await page.locator("[data-pressure='0.gear']").fill("low");
  await page.locator("[data-pressure='0.shown']").fill("190");
  await page.locator("#bench-go").tap();
  await page.waitForFunction(() => /unit|psi/.test(document.querySelector("#bench-says").textContent));
  assert.match(await text(page, "#bench-says"), /190.*psi/, "a pressure without its unit is refused with a remedy");
  await page.reload();
  await ready(page);
  await page.locator("#bench-part > summary").tap();
  await page.locator("[data-pressure='0.shown']").waitFor();
  assert.equal(await page.locator("[data-bench='unit.number']").inputValue(), "0899");
  assert.equal(await page.locator("[data-note='noise_hot']").inputValue(), "rumble in high");
  assert.match(await text(page, "#bench-steps > summary"), /Steps: 2 of 17 done/);
  await page.locator("[data-pressure='0.shown']").fill("190 psi");
  await page.locator("#bench-go").tap();
  // The Saturday's engine is off at 8:00: there is nothing to compare, and the sheet can be printed all the same.
  await page.waitForFunction(() => !document.querySelector("#bench-print").disabled);
  assert.match(await text(page, "#bench-says"), /No reading yet that can be compared/);
  await page.locator("[data-bench='unit.number']").fill("0900");
  assert.match(await text(page, "#bench-says"), /Something has changed/);
  assert.ok(await page.locator("#bench-print").isDisabled());
  quiet(log);
  await close();
});

test("a record that is opened can be taken back whole, by undo of the day too", async () => {
  const { page, log, close } = await openBench();
  const customer = page.locator("[data-bench='customer.name']");
  await customer.fill("MINE");
  await customer.press("Tab");
  await openExample(page);
  assert.equal(await customer.inputValue(), "A. Example");
  await page.locator("#undo").click();
  await settled(page);
  assert.notEqual(await text(page, "#day-name"), "Unit 0417, two-speed with brake");
  assert.equal(await customer.inputValue(), "MINE");
  await page.locator("#redo").click();
  await settled(page);
  assert.equal(await customer.inputValue(), "A. Example");
  await page.locator("#bench-new").click();
  assert.equal(await customer.inputValue(), "MINE", "and by the sheet's own button");
  quiet(log);
  await close();
});

test("long words still print on one page", async () => {
  const { page, log, close } = await openBench();
  await openExample(page);
  await page.locator("[data-bench='unit.work']").fill("New clutches, steels and bands, seals and rings, drum bushings, pump gears lapped, separator plate and gaskets, case flushed, cooler lines blown through, selector shaft seal and detent spring renewed");
  await page.locator("[data-bench='remarks']").fill("Output turns stiffly by hand in neutral when hot. ".repeat(8));
  await page.locator("#bench-go").click();
  await page.waitForFunction(() => !document.querySelector("#bench-print").disabled);
  for (const format of ["Letter", "A4"]) {
    assert.equal(await printed(page, join(root, `target/bench-sheet-long-${format}.pdf`), format), 1, format);
    await page.evaluate(() => dispatchEvent(new Event("afterprint")));
  }
  quiet(log);
  await close();
});

test("what is no record is refused, and nothing is lost; a new one can be taken back", async () => {
  const { page, close } = await openBench();
  await page.locator("[data-bench='customer.name']").fill("C. Example");
  await page.locator("#bench-file").setInputFiles({ name: "day.json", mimeType: "application/json", buffer: Buffer.from('{"format": 1}') });
  await page.waitForFunction(() => /not the record/.test(document.querySelector("#bench-says").textContent));
  const bad = readFileSync(EXAMPLE, "utf8").replace('"port": "charge"', '"port": "lube"');
  await page.locator("#bench-file").setInputFiles({ name: "bad.json", mimeType: "application/json", buffer: Buffer.from(bad) });
  await page.waitForFunction(() => /line, charge/.test(document.querySelector("#bench-says").textContent));
  assert.equal(await page.locator("[data-bench='customer.name']").inputValue(), "C. Example");
  assert.equal(await text(page, "#day-name"), "Saturday bracket day");
  await page.locator("#bench-new").click();
  assert.equal(await page.locator("[data-bench='customer.name']").inputValue(), "");
  await page.locator("#bench-new").click();
  assert.equal(await page.locator("[data-bench='customer.name']").inputValue(), "C. Example");
  await close();
});

for (const { width, colorScheme } of [{ width: 1280, colorScheme: "light" }, { width: 360, colorScheme: "dark" }, { width: 320, colorScheme: "light" }]) {
  test(`axe finds nothing in the bench sheet at ${width} px, ${colorScheme}, and nothing is cut off`, async () => {
    const { page, close } = await openBench({ width, colorScheme, height: 900 });
    await openExample(page);
    await page.locator("#bench-steps > summary").click();
    assert.deepEqual(await findViolations(page), []);
    assert.ok(await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth), "wider than the page");
    await screenshot(page, `bench-${width}-${colorScheme}`, { fullPage: false, clip: undefined });
    await page.locator("#bench-sheet").screenshot({ path: join(root, `target/screenshots/bench-part-${width}-${colorScheme}.png`) });
    await close();
  });
}
