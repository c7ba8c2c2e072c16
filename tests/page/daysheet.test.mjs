// The day on one sheet of paper: one page of Letter and of A4 for every example day, with what the command line says of pump,
// fan and launches on it, the cautions, and nothing cut off.
import assert from "node:assert/strict";
import { execFileSync } from "node:child_process";
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { after, before, test } from "node:test";
import { box, cells, findProgram, openDayOf, quiet, root, settled, startSite, type } from "./harness.mjs";

let site;
before(async () => (site = await startSite()));
after(() => site?.close());

const EXAMPLES = ["saturday_bracket_day", "test_and_tune_evening", "dyno_bench_session"];
const pathOf = (name) => join(root, "scenarios", `${name}.json`);
const pages = (pdf) => (pdf.toString("latin1").match(/\/Type\s*\/Page\b/g) ?? []).length;

/** A page whose button prints into the test's hands. */
async function open(options = {}) {
  const opened = await openDayOf(site, options);
  await opened.page.evaluate(() => {
    window.print = () => {
      window.printed = (window.printed ?? 0) + 1;
    };
  });
  return opened;
}

async function put(page, scenario) {
  await page.locator("#file").setInputFiles({ name: "day.json", mimeType: "application/json", buffer: Buffer.from(JSON.stringify(scenario)) });
  await page.waitForFunction((name) => document.querySelector("#day-name").textContent === name, scenario.name);
  await settled(page);
}

async function printed(page) {
  const before = await page.evaluate(() => window.printed ?? 0);
  await page.locator("#print-sheet").click();
  await page.waitForFunction((before) => window.printed === before + 1, before);
}

/** A table of the sheet as texts, without its head. */
const rowsOf = (page, name) => page.locator(`.${name} tbody tr`).evaluateAll((rows) => rows.map((row) => [...row.cells].map((cell) => cell.textContent)));

test("every example is one page of Letter and of A4, from a phone in the dark and from a desk, and is gone afterwards", async () => {
  for (const [width, colorScheme] of [[390, "dark"], [1280, "light"]]) {
    for (const name of EXAMPLES) {
      const { page, log, close } = await open({ width, colorScheme });
      await put(page, JSON.parse(readFileSync(pathOf(name), "utf8")));
      for (const format of ["Letter", "A4"]) {
        await printed(page);
        assert.ok(await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth), "wider than the screen");
        await page.emulateMedia({ media: "print", colorScheme });
        const seen = await page.evaluate(() => {
          const sheet = document.querySelector(".day-sheet");
          const { left, right } = sheet.getBoundingClientRect();
          return {
            others: [...document.body.children].filter((node) => node !== sheet.parentNode && node.offsetParent !== null).map(({ className }) => className),
            cut: [...sheet.querySelectorAll("td, th, p, h1, h2, li, figure")].filter((node) => node.getBoundingClientRect().right > right + 1 || node.getBoundingClientRect().left < left - 1).map((node) => node.textContent),
            ink: getComputedStyle(sheet).color,
            picture: sheet.querySelector("svg").getBoundingClientRect().height > 60,
            cautions: sheet.querySelectorAll("li").length,
          };
        });
        await page.emulateMedia({ media: null, colorScheme });
        assert.deepEqual(seen, { others: [], cut: [], ink: "rgb(0, 0, 0)", picture: true, cautions: 6 }, `${name} ${format}`);
        // Making a PDF prints: the sheet is taken away behind it.
        assert.equal(pages(await page.pdf({ format })), 1, `${name} ${format} ${width}`);
        await page.waitForFunction(() => !document.querySelector(".day-paper"));
        assert.equal(await page.evaluate(() => document.body.classList.contains("prints-day")), false);
      }
      quiet(log);
      await close();
    }
  }
});

test("steps, pump and fan, and launches are those of the day, in both units", async () => {
  const { page, close } = await open();
  const name = EXAMPLES[0];
  const day = JSON.parse(execFileSync(findProgram(), ["simulate", "--json", pathOf(name)], { encoding: "utf8", maxBuffer: 1e9 }));
  const minute = (time_s) => `${Math.floor(time_s / 3600)}:${String(Math.floor((time_s % 3600) / 60)).padStart(2, "0")}`;
  for (const units of ["us", "si"]) {
    await page.locator(`label[for=units-${units}]`).click();
    await settled(page);
    await printed(page);
    // What the page's own table has; `cells` reads round, time, converter, pan, window, flash, elapsed time.
    const launches = await rowsOf(page, "day-launches");
    const onPage = (await cells(page)).map(([round, time, converter, pan, window, flash, elapsed]) => [round, time, pan, window, converter, flash.split(" ")[0], elapsed.split(" ")[0], "", ""]);
    assert.deepEqual(launches, onPage);
    const steps = await rowsOf(page, "day-steps");
    // Six rounds, each driven and parked, and four steps around them.
    assert.equal(steps.length, 6 * 2 + 4);
    assert.match(steps.find(([, round]) => round === "1")[2], /Held on the brake, 2\.5 s · Pass, 10\.3 s · .* · launch 2:02$/);
    assert.equal(steps.find(([, round, , switches]) => round === "2" && switches === "")[2], "As in round 1 · launch 3:02");
    const parked = steps.filter(([, , what]) => what.startsWith("Pits"));
    day.launches.forEach((launch, at) => {
      const event = day.events.find((one) => one.kind === "engine_off" && one.start_s > launch.time_s);
      const [time, round, what, switches] = parked[at];
      assert.deepEqual([time, round], [minute(event.start_s), String(at + 1)]);
      assert.match(what, /engine off/);
      // The file of the day has five minutes of the pump and ten of the fan from shut-off, or less where the call comes first.
      const until = (length_s) => minute(Math.min(event.start_s + length_s, event.end_s));
      assert.equal(switches, `Pump: through the converter ${time}–${until(300)} Fan ${time}–${until(600)} `);
    });
    assert.ok((await page.locator(".day-sheet").textContent()).includes(JSON.parse(readFileSync(pathOf(name), "utf8")).note));
    assert.match(await page.locator(".day-sheet").textContent(), units === "us" ? /Air temperature 88 °F/ : /Air temperature 31\.11 °C/);
    await page.evaluate(() => dispatchEvent(new Event("afterprint")));
  }
  await close();
});

test("a day of many rounds is set tighter, one that fits no page goes on to a second, words from outside stay words", async () => {
  const { page, log, close } = await open();
  const scenario = JSON.parse(readFileSync(pathOf(EXAMPLES[0]), "utf8"));
  const pattern = scenario.timeline.find((entry) => entry.rounds);
  pattern.rounds = Array(12).fill("30 min");
  scenario.name = "<img src=x onerror=window.bad=1> & twelve";
  await put(page, scenario);
  await printed(page);
  assert.match(await page.locator(".day-sheet").getAttribute("class"), /tight/);
  assert.equal(await page.locator(".day-sheet h1").textContent(), scenario.name);
  assert.equal(pages(await page.pdf({ format: "Letter" })), 1);
  pattern.rounds = Array(40).fill("20 min");
  scenario.name = "Forty rounds";
  await put(page, scenario);
  await printed(page);
  assert.ok(pages(await page.pdf({ format: "A4" })) >= 2);
  assert.equal(await page.evaluate(() => window.bad), undefined);
  quiet(log);
  await close();
});

test("a change that is not computed is not on the sheet, and it says so", async () => {
  const { page, close } = await open();
  await type(page, box(page, "air.temperature"), "101");
  await type(page, box(page, "cooler.ua"), "1e9");
  assert.ok(await page.locator("#problem").isVisible());
  await printed(page);
  const sheet = await page.locator(".day-sheet").textContent();
  assert.match(sheet, /Air temperature 101 °F/);
  assert.match(sheet, /The last change could not be computed and is not in this sheet\./);
  assert.match(sheet, /Cooler size \(UA\) 110 W\/K/);
  await close();
});

test("without its style, which could not be fetched, the page prints as it does by itself", async () => {
  const { page, context, close } = await open();
  await context.route("**/daysheet.css", (route) => route.abort());
  await printed(page);
  assert.equal(await page.locator(".day-paper").count(), 0);
  await context.unroute("**/daysheet.css");
  await printed(page);
  assert.equal(await page.locator(".day-paper").count(), 1);
  await close();
});
