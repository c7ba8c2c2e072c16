// Readings and fit on the page: typed by buttons and stopwatch, taken from a table, fitted, put into the day and taken
// back, kept over a reload and in a link.

import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { after, before, test } from "node:test";
import { axeSource, box, kept, openDayOf, openPart, quiet, ready, root, screenshot, settled, startSite, text, type } from "./harness.mjs";

let site;
before(async () => (site = await startSite()));
after(() => site?.close());

const EXAMPLE = readFileSync(`${root}/scenarios/dyno_bench_readings.csv`, "utf8").trim().split("\n").slice(1).map((line) => line.split(","));

async function open(options) {
  const opened = await openDayOf(site, options);
  await openSection(opened.page);
  return opened;
}
async function openSection(page) {
  const isOpen = await page.locator("#readings-part").evaluate((node) => node.open);
  if (!isOpen) await page.locator("#readings-part > summary").click();
  await page.locator("#fit-run").waitFor();
}
const bench = async (page) => {
  await page.locator("#example").selectOption("dyno_bench_session");
  await settled(page);
};
const fit = async (page) => {
  await page.locator("#fit-run").click();
  await page.locator("#fit-stop").waitFor({ state: "hidden", timeout: 120_000 });
  await page.locator("#fit-readings").waitFor();
};
const rows = async (page) => (await kept(page)).readings.rows;
async function addOne(page, [time, place, shown, surface]) {
  await page.locator(`.place[data-place=${place}]`).click();
  await page.locator("[data-reading=time]").fill(time);
  await page.locator("[data-reading=shown]").fill(shown);
  await page.locator("select[data-reading=surface]").selectOption(surface);
  const before = await page.locator("#reading-list > li").count();
  await page.locator("#reading-add").click();
  await page.waitForFunction((count) => document.querySelectorAll("#reading-list > li").length > count, before);
}
const paste = async (page, table) => {
  await page.locator("#readings-table > summary").click();
  await page.locator("[data-readings=paste]").fill(table);
  await page.locator("#readings-preview tbody tr").first().waitFor();
};

test("a bench session typed in: stopwatch, buttons, nine readings, fitted, put in, undone, there after a reload", async () => {
  const opened = await site.open({ path: null, width: 360, height: 800, hasTouch: true });
  await opened.page.clock.install({ time: new Date("2026-05-02T10:00:00") });
  await opened.page.goto(site.url);
  await ready(opened.page);
  const { page: bencher } = opened;
  await openSection(bencher);
  await bench(bencher);
  await bencher.locator("#stopwatch-start").tap();
  await bencher.clock.fastForward("04:00");
  assert.match(await text(bencher, "#stopwatch-face"), /^4:0[0-5]$/);
  await bencher.locator(".place[data-place=pan]").tap();
  assert.equal(await bencher.locator("select[data-reading=surface]").inputValue(), "contact");
  await bencher.locator("#reading-now").tap();
  assert.match(await bencher.locator("[data-reading=time]").inputValue(), /^4:0[0-5]$/);
  await bencher.locator("[data-reading=shown]").fill("90");
  await bencher.waitForFunction(() => document.querySelector("#reading-says").textContent.startsWith("Taken as shown: 90"));
  await bencher.locator("#reading-add").tap();
  await bencher.locator("#reading-list > li").first().waitFor();
  // The stopwatch goes on over a reload.
  await bencher.reload();
  await ready(bencher);
  await openSection(bencher);
  await bencher.clock.fastForward("03:30");
  assert.match(await text(bencher, "#stopwatch-face"), /^7:[34]\d$/);
  for (const one of EXAMPLE.slice(1, 9)) await addOne(bencher, one);
  assert.equal((await rows(bencher)).length, 9);
  assert.deepEqual((await rows(bencher))[1], { time: "7:30", place: "converter_shell", shown: "93 °F", surface: "tape" });
  await bencher.locator("#reading-list .reading-what").nth(1).filter({ hasText: /^0:07:30 Converter shell: 93 °F$/ }).waitFor();

  const stated = (await kept(bencher)).scenario;
  await bencher.clock.resume();
  await fit(bencher);
  const [, stateOff, fitOff] = (await text(bencher, "#fit-says")).match(/^9 readings: the day as stated is off by ([\d.]+) °F \(root mean square\), the fitted one by ([\d.]+) °F\.$/);
  assert.ok(Number(fitOff) < Number(stateOff), `${fitOff} < ${stateOff}`);
  assert.equal(await bencher.locator("#fit-readings tbody tr").count(), 9);
  assert.deepEqual((await kept(bencher)).scenario, stated, "nothing is changed before the button");

  await bencher.locator("#fit-use").tap();
  await settled(bencher);
  const fitted = (await kept(bencher)).scenario;
  assert.equal(fitted.calibration.note, "Fitted to 9 readings");
  assert.match(await text(bencher, "#note-text"), /fitted to 9 readings/);
  assert.match(await text(bencher, "#calibration-note"), /come from the fit; bands use/);
  assert.equal(await text(bencher, "#fit-use"), "This fit is in the day");
  await bencher.locator("#link-long", { hasText: /^The link has the fitted numbers, but no room for how well/ }).waitFor({ state: "attached" });
  assert.ok(new URL(bencher.url()).hash.length <= 1500);
  await bencher.locator("#undo").tap();
  await settled(bencher);
  assert.deepEqual((await kept(bencher)).scenario, stated);
  assert.ok(await bencher.locator("#calibration-note").isHidden());
  await bencher.locator("#redo").tap();
  await settled(bencher);
  assert.deepEqual((await kept(bencher)).scenario, fitted);
  await bencher.reload();
  await ready(bencher);
  await openSection(bencher);
  await bencher.locator("#reading-list > li").nth(8).waitFor();
  assert.match(await text(bencher, "#calibration-note"), /Fitted to 9 readings/);
  await bencher.locator("#calibration-remove").tap();
  await settled(bencher);
  assert.equal((await kept(bencher)).scenario.calibration, undefined);
  // Back through all that was done, over the reload: to the eighth reading.
  for (let steps = 0; steps < 3; steps += 1) await bencher.locator("#undo").tap();
  await settled(bencher);
  assert.equal((await rows(bencher)).length, 8);
  quiet(opened.log);
  await opened.close();
});

test("a reading is looked at while it is typed, changed, left out and deleted; wrong ones say what is wrong", async () => {
  const { page, log, close } = await open();
  await bench(page);
  await page.locator(".place[data-place=converter_shell]").click();
  await page.locator("[data-reading=time]").fill("12:30");
  await page.locator("select[data-reading=surface]").selectOption("machined_aluminium");
  await page.locator("[data-reading=shown]").fill("100");
  await page.waitForFunction(() => /^The spot had \d+ ± \d+ °F\. Bare metal/.test(document.querySelector("#reading-says").textContent));
  const bare = Number((await text(page, "#reading-says")).match(/had (\d+)/)[1]);
  assert.ok(bare > 150, `bare metal reads far too low: ${bare}`);
  await page.locator("select[data-reading=surface]").selectOption("tape");
  await page.waitForFunction(() => /^The spot had 100 ±/.test(document.querySelector("#reading-says").textContent));
  await page.locator("label[for=units-si]").click();
  await settled(page);
  await page.locator("[data-reading=shown]").fill("");
  await page.locator("label[for=units-us]").click();
  await settled(page);
  await page.locator("#reading-more > summary").click();
  await page.locator("[data-reading=emissivity]").fill("1.4");
  await page.locator("[data-reading=shown]").fill("152");
  await page.locator("#reading-add").click();
  await page.locator("[data-reading=emissivity][aria-invalid=true]").waitFor();
  assert.match(await page.locator(".field:has([data-reading=emissivity]) .field-error").textContent(), /^1\.4: .*1/);
  assert.equal((await kept(page)).readings.rows.length, 0);
  await page.locator("[data-reading=emissivity]").fill("0.93");
  await page.locator("#reading-add").click();
  await page.locator("#reading-list > li").first().waitFor();
  assert.deepEqual(await rows(page), [{ time: "12:30", place: "converter_shell", shown: "152 °F", surface: "tape", emissivity: 0.93 }]);
  await page.locator("label[for=units-si]").click();
  await page.waitForFunction(() => document.querySelector(".reading-what").textContent === "0:12:30 Converter shell: 66.7 °C");
  await page.locator("label[for=units-us]").click();
  await page.waitForFunction(() => document.querySelector(".reading-what").textContent === "0:12:30 Converter shell: 152 °F");
  await page.locator("[data-act=edit]").click();
  await page.locator("[data-reading=shown]").fill("155");
  await page.locator("#reading-add").click();
  await page.waitForFunction(() => document.querySelector(".reading-what").textContent.endsWith("155 °F"));
  await page.locator("[data-act=edit]").click();
  await page.locator("[data-reading=deviation]").fill("4");
  await page.locator("[data-reading=surroundings]").fill("80");
  await page.locator("#reading-add").click();
  await page.locator("#reading-stop").waitFor({ state: "hidden" });
  assert.deepEqual((await rows(page))[0], { time: "12:30", place: "converter_shell", shown: "155 °F", surface: "tape", emissivity: 0.93, surroundings: "80 °F", deviation: "4 °F" });
  await page.locator("[data-act=out]").click();
  assert.equal((await rows(page))[0].out, true);
  await page.waitForFunction(() => document.querySelector("#fit-run").disabled);
  await page.locator("[data-act=remove]").click();
  await settled(page);
  assert.deepEqual(await rows(page), []);
  await page.locator("#undo").click();
  await settled(page);
  assert.equal((await rows(page))[0].shown, "155 °F");
  // Another day leaves them where they are.
  await page.locator("#example").selectOption("test_and_tune_evening");
  await settled(page);
  assert.equal((await rows(page)).length, 1);
  quiet(log);
  await close();
});

test("what is half typed is there after a reload", async () => {
  const { page, log, close } = await open();
  await page.locator("[data-place=pan]").click();
  await page.locator("[data-reading=time]").fill("7:30");
  await page.locator("[data-reading=shown]").fill("123");
  await page.reload();
  await ready(page);
  await openSection(page);
  assert.equal(await page.locator("[data-reading=time]").inputValue(), "7:30");
  assert.equal(await page.locator("[data-reading=shown]").inputValue(), "123");
  assert.equal(await page.locator("[data-place=pan]").getAttribute("aria-pressed"), "true");
  quiet(log);
  await close();
});

test("a pasted table: rows with their errors in place, nothing taken over before it is said, saved and read back", async () => {
  const { page, log, close } = await open();
  await bench(page);
  await paste(page, "time (min);place;shown (°F);surface;humidity\n4,5;pan;90;;40\n7,5;shell;93;tape;41\n8;elbow;93;tape;41\n9;shell;93;;41\n10;shell;hot;tape;41\n");
  assert.match(await text(page, "#readings-table-says"), /^2 rows can be read, 3 cannot: .* Columns not used: humidity\. Nothing is taken over yet\.$/);
  const errors = await page.locator("#readings-preview tr.refused").allTextContents();
  assert.equal(errors.length, 3);
  assert.match(errors[0], /^4.*elbow/);
  assert.match(errors[1], /^5.*surface.*contact/);
  assert.match(errors[2], /^6.*hot/);
  assert.deepEqual((await kept(page)).readings.rows, []);
  await page.locator("#readings-take").click();
  await settled(page);
  assert.deepEqual((await rows(page)).map(({ time, shown }) => [time, shown]), [["0:04:30", "90 °F"], ["0:07:30", "93 °F"]]);
  const [saved] = await Promise.all([page.waitForEvent("download"), page.locator("#readings-save").click()]);
  assert.equal(saved.suggestedFilename(), "dyno-bench-session.readings.csv");
  const table = readFileSync(await saved.path(), "utf8");
  assert.match(table, /^time \(min:s\),place,shown \(°F\),surface\n/);
  const was = await rows(page);
  await page.locator("[data-readings=paste]").fill(table);
  await page.locator("#readings-replace").waitFor();
  await page.locator("#readings-replace").click();
  await settled(page);
  assert.deepEqual(await rows(page), was);
  quiet(log);
  await close();
});

test("invented readings: a slip stands out, is left out and fitted again, in both units; what may move can be chosen", async () => {
  const { page, log, close } = await open();
  await page.locator("#readings-example").click();
  await page.waitForFunction((count) => document.querySelectorAll("#reading-list > li").length === count, EXAMPLE.length);
  assert.equal(await text(page, "#day-name"), "Dyno bench session");
  await page.locator('[data-act=edit][data-at="6"]').click();
  await page.locator("[data-reading=shown]").fill("187");
  await page.locator("#reading-add").click();
  await page.waitForFunction(() => document.querySelectorAll(".reading-what")[6].textContent.endsWith("187 °F"));
  const began = Date.now();
  await fit(page);
  console.log(`fit of ${EXAMPLE.length} readings in the browser: ${Date.now() - began} ms`);
  assert.match((await page.locator(".remarks li").allTextContents()).join(), /Reading 7 .*stands out/);
  assert.match(await page.locator("#fit-readings tr.stands-out").first().textContent(), /^7\./);
  await page.locator('#fit-readings [data-out="6"]').check();
  await page.waitForFunction(() => document.querySelector("#fit-says").textContent.startsWith("13 readings:"), null, { timeout: 120_000 });
  const us = await text(page, "#fit-says");
  await page.locator("label[for=units-si]").click();
  await page.waitForFunction(() => /°C/.test(document.querySelector("#fit-says").textContent));
  const number = (said) => Number(said.match(/fitted one by ([\d.]+)/)[1]);
  assert.ok(Math.abs(number(us) / 1.8 - number(await text(page, "#fit-says"))) < 0.11);
  await page.locator("#fit-free > summary").click();
  await page.locator("[data-free='cooler.ua']").check();
  assert.ok(!(await page.locator("#fit-all").isChecked()));
  assert.match(await text(page, "#fit-says"), /^The day, the readings or what may move have changed: fit again\./);
  await fit(page);
  assert.equal(await page.locator("#fit-parameters tbody tr").count(), 1);
  // A reading of a hose through which nothing flows is named, and the fit can be stopped.
  await addOne(page, ["32:00", "cooler_out", "100", "contact"]);
  await page.locator("#fit-run").click();
  await page.waitForFunction(() => /^Reading at 0:32:00 \(Hose out of the cooler\) nothing flows through the cooler then/.test(document.querySelector("#fit-says").textContent), null, { timeout: 60_000 });
  assert.ok(await page.locator("#fit-use").isHidden());
  await page.evaluate(() => {
    document.querySelector("#fit-run").click();
    document.querySelector("#fit-stop").click();
  });
  assert.equal(await text(page, "#fit-says"), "Stopped.");
  quiet(log);
  await close();
});

test("a fit in the day is told by the band and by the list of changes", async () => {
  const { page, log, close } = await open();
  await page.locator("#readings-example").click();
  await page.waitForFunction((count) => document.querySelectorAll("#reading-list > li").length === count, EXAMPLE.length);
  await openPart(page, "compare");
  await page.locator("#keep-day").click();
  await fit(page);
  assert.match((await page.locator(".remarks li").allTextContents()).join(), /No reading stands out, and no two parameters/);
  const listed = await page.locator("#fit-parameters tbody tr").count();
  await page.locator("#fit-use").click();
  await settled(page);
  // Every parameter that the day has been given stands in the table, and no other.
  assert.equal(Object.keys((await kept(page)).scenario.calibration.parameters).length, listed);
  const changes = (await page.locator("#compare-variants li .changes li").allTextContents()).join(" | ");
  assert.match(changes, /Fit to readings/);
  assert.match(changes, /Fitted to 14 readings/);
  await openPart(page, "band");
  await page.locator("#band-draw").click();
  await page.waitForFunction(() => /The fit to readings is used/.test(document.querySelector("#band-says").textContent), null, { timeout: 120_000 });
  quiet(log);
  await close();
});

test("a table dropped on the page is shown, not taken over", async () => {
  const { page, log, close } = await openDayOf(site);
  await page.evaluate(() => {
    const files = new DataTransfer();
    files.items.add(new File(["time,place,shown\n4 min,pan,90 °F\n"], "bench.csv", { type: "text/csv" }));
    document.body.dispatchEvent(new DragEvent("drop", { bubbles: true, cancelable: true, dataTransfer: files }));
  });
  await page.locator("#readings-preview tbody tr").waitFor();
  assert.match(await text(page, "#readings-table-says"), /^1 row can be read\. Nothing is taken over yet\.$/);
  assert.deepEqual((await kept(page))?.readings?.rows ?? [], []);
  quiet(log);
  await close();
});

test("a link holds twenty readings in 1500 characters, and gives them back", async () => {
  const { page, log, close } = await open();
  await bench(page);
  const twenty = [...EXAMPLE, ...EXAMPLE.slice(0, 6).map(([time, ...rest]) => [time.replace(/\d$/, "7"), ...rest])];
  assert.equal(twenty.length, 20);
  await paste(page, `time (min:s),place,shown (°F),surface\n${twenty.map((line) => line.join(",")).join("\n")}`);
  await page.locator("#readings-take").click();
  await page.waitForFunction(() => document.querySelectorAll("#reading-list > li").length === 20);
  // With a day A to compare with, as there may be.
  await page.locator("#what-if-compare > summary").click();
  await page.locator("#keep-day").click();
  await type(page, box(page, "air.temperature"), "88");
  const was = (await kept(page)).readings;
  await page.waitForFunction(() => location.hash.length > 100);
  await page.waitForTimeout(600);
  const address = page.url();
  const { length } = new URL(address).hash;
  console.log(`link with 20 readings: ${length} characters`);
  assert.ok(length <= 1500, `${length} characters`);
  const other = await site.open({ path: `#${address.split("#")[1]}` });
  await ready(other.page);
  await openSection(other.page);
  assert.deepEqual((await kept(other.page)).readings, was);
  assert.equal(await other.page.locator("#compare-variants > li").count(), await page.locator("#compare-variants > li").count());
  quiet(log);
  quiet(other.log);
  await other.close();
  await close();
});

test("axe finds nothing to mend, nothing is wider than the page, targets of 44 px, light and dark", async () => {
  for (const [width, colorScheme] of [[320, "light"], [360, "dark"], [360, "light"], [1280, "light"], [1280, "dark"]]) {
    const { page, log, close } = await open({ width, height: 900, colorScheme, reducedMotion: "reduce", hasTouch: width < 500 });
    await page.locator("#readings-example").click();
    await page.waitForFunction((count) => document.querySelectorAll("#reading-list > li").length === count, EXAMPLE.length);
    await page.locator("#reading-more > summary").click();
    await paste(page, "time (min),place,shown (°F),surface\n4,pan,90,\n5,elbow,90,");
    await fit(page);
    await page.locator("#fit-free > summary").click();
    await page.evaluate(axeSource);
    const violations = await page.evaluate(async () => {
      const { violations: found } = await window.axe.run("#readings", { rules: { "target-size": { enabled: true } } });
      return found.map(({ id, nodes }) => [id, nodes.slice(0, 3).map((node) => node.html.slice(0, 160))]);
    });
    assert.deepEqual(violations, [], `${width} ${colorScheme}`);
    assert.ok(await page.evaluate(() => document.documentElement.scrollWidth) <= width, `wider than ${width}`);
    const small = await page.locator("#readings :is(button, select, summary, input:not([type=checkbox]), textarea, label:has(> input[type=checkbox]))").evaluateAll((all) =>
      all.filter((one) => one.offsetParent && one.getBoundingClientRect().height < 43.5).map((one) => one.outerHTML.slice(0, 80)));
    assert.deepEqual(small, [], "targets of 44 px");
    assert.equal(await page.locator("#readings figure svg:visible").count(), 2);
    const clip = await page.locator("#readings").evaluate((node) => {
      const { x, y, width: wide, height } = node.getBoundingClientRect();
      return { x, y: y + scrollY, width: wide, height };
    });
    await screenshot(page, `readings-${width}-${colorScheme}`, { clip });
    quiet(log);
    await close();
  }
});
