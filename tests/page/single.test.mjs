// One file that holds the whole page, opened from a disk, in a folder whose name has a blank and an umlaut: everything
// works, workers too, and nothing is asked for.
import assert from "node:assert/strict";
import { mkdirSync, mkdtempSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { after, before, test } from "node:test";
import { box, cells, launchDegrees, openPage, openPart, press, quiet, ready, root, settled, singleFile, slider, startBrowser, text, type } from "./harness.mjs";

const LIMIT = { timeout: 120_000 };

let browser, folder, address;
before(async () => {
  folder = mkdtempSync(join(tmpdir(), "single-"));
  mkdirSync(join(folder, "für den Stand"));
  address = singleFile(join(folder, "für den Stand", "stall heat.html"));
  browser = await startBrowser();
});
after(async () => {
  await browser?.close();
  rmSync(folder, { recursive: true, force: true });
});

/** Opens the file with the network off; `quietly` says at the end that nothing was asked for and nothing went wrong. */
async function open(options = {}) {
  const opened = await openPage(browser, address, { offline: true, path: null, ...options });
  const { page, context, log } = opened;
  const asked = [];
  context.on("request", (request) => {
    if (!/^(blob|data):/.test(request.url())) asked.push(request.url());
  });
  await context.setOffline(true);
  await page.goto(address + (options.hash ?? ""));
  await ready(page);
  const quietly = async (loads = 1) => {
    quiet(log);
    assert.deepEqual(asked.map((url) => url.split("#")[0]), Array(loads).fill(address));
    assert.deepEqual(log.requests, []);
    await context.close();
  };
  return { ...opened, quietly };
}

/** Every pixel of the chart as one text. */
const chart = (page) => page.locator("#chart-body canvas").first().evaluate((canvas) => canvas.toDataURL());

test("the finding is there, a slider moves the chart, the day is kept over a reload", async () => {
  const { page, quietly } = await open();
  assert.match(await text(page, "#finding"), /\d+\s°F/);
  assert.match(await text(page, "#offline"), /^Works without signal: everything is in this file\.$/);
  assert.match(await text(page, "#build"), /^[0-9a-f]{8}$/);
  assert.equal(await page.locator("[data-site-only]").count(), 0, "other pages of the site");
  assert.match(page.url(), /^file:.*f%C3%BCr%20den%20Stand\/stall%20heat\.html/);
  const [was, degrees] = [await chart(page), await launchDegrees(page)];
  await slider(page, "air.temperature").focus();
  for (let presses = 0; presses < 10; presses += 1) await page.keyboard.press("ArrowRight");
  await settled(page);
  assert.notEqual(await chart(page), was);
  const hotter = await launchDegrees(page);
  assert.ok(hotter.at(-1)[1] > degrees.at(-1)[1], `${hotter} after ${degrees}`);
  const air = await box(page, "air.temperature").inputValue();
  await page.waitForFunction(() => location.hash.startsWith("#s="));
  await page.reload();
  await ready(page);
  assert.equal(await box(page, "air.temperature").inputValue(), air);
  assert.deepEqual(await launchDegrees(page), hotter);
  await quietly(2);
});

test("workers plan and draw a band with their helpers", async () => {
  const { page, quietly } = await open();
  await openPart(page, "plan");
  await page.waitForFunction(() => document.querySelector("#plan-says")?.textContent, null, LIMIT);
  assert.match(await text(page, "#plan-says"), /comes to the line at \d+\s°F/);
  await openPart(page, "band");
  await press(page, "#band-draw");
  await page.locator("#band-bars tr").nth(7).waitFor(LIMIT);
  assert.match(await text(page, "#band-says"), /\d+/);
  await openPart(page, "size");
  await page.locator("#size-find").click();
  await page.locator("#size-stop").waitFor({ state: "hidden", ...LIMIT });
  assert.match(await text(page, "#size-says"), /^A cooler of /);
  await quietly();
});

test("readings are fitted in a worker", async () => {
  const { page, quietly } = await open();
  await page.locator("#readings-part > summary").click();
  await page.locator("#readings-example").click();
  await page.locator("#reading-list > li").first().waitFor();
  await page.locator("#fit-run").click();
  await page.locator("#fit-readings tbody tr").first().waitFor(LIMIT);
  assert.match(await text(page, "#fit-says"), /readings: the day as stated is off by [\d.]+\s°F/);
  await quietly();
});

test("a bench test is judged, its sheet has its style and prints on one page", async () => {
  const { page, quietly } = await open();
  await page.locator("#bench-part > summary").click();
  await page.locator("[data-bench='unit.number']").waitFor();
  await page.locator("#bench-file").setInputFiles(join(root, "scenarios/bench_tests/unit_0417.json"));
  await page.locator("#bench-causes li").first().waitFor(LIMIT);
  await settled(page);
  await page.evaluate(() => {
    window.print = () => null;
  });
  await page.locator("#bench-print").click();
  const pdf = await page.pdf({ format: "Letter" });
  assert.equal((pdf.toString("latin1").match(/\/Type\s*\/Page\b/g) ?? []).length, 1);
  await quietly();
});

test("the day's sheet has its style and prints on one page", async () => {
  const { page, quietly } = await open({ width: 390 });
  await page.evaluate(() => {
    window.print = () => {
      window.printed = true;
    };
  });
  await page.locator("#print-sheet").click();
  await page.waitForFunction(() => window.printed);
  assert.equal(await page.locator(".day-sheet .day-launches tbody tr").count(), 6);
  const pdf = await page.pdf({ format: "A4" });
  assert.equal((pdf.toString("latin1").match(/\/Type\s*\/Page\b/g) ?? []).length, 1);
  await quietly();
});

test("a day is saved and opened again, and a link says that it stays on this device", async () => {
  const { page, quietly } = await open();
  await type(page, box(page, "air.temperature"), "101");
  const [saved] = await Promise.all([page.waitForEvent("download"), page.locator("#save").click()]);
  const scenario = readFileSync(await saved.path());
  assert.match(scenario.toString(), /101\s°F/);
  await type(page, box(page, "air.temperature"), "60");
  await page.locator("#file").setInputFiles({ name: "day.json", mimeType: "application/json", buffer: scenario });
  await page.waitForFunction(() => document.querySelector('.control[data-path="air.temperature"] input.number').value === "101");
  await settled(page);
  const hot = await cells(page);
  await page.locator("#copy-link").click();
  await page.waitForFunction(() => document.querySelector("#link-said").textContent);
  assert.match(await text(page, "#link-said"), /opens on this device only: to send the day to somebody, save it as a file/);
  const { hash } = new URL(await page.locator("#link-text").inputValue());
  await quietly();
  const other = await open({ hash });
  assert.deepEqual(await cells(other.page), hot);
  await other.quietly();
});

test("after a fault a fresh core goes on", async () => {
  const { page, context, log } = await openPage(browser, address, { offline: true, path: null });
  await context.addInitScript(() => {
    const Whole = Blob;
    globalThis.Blob = class extends Whole {
      constructor(parts, options) {
        const broken = options?.type === "text/javascript" && parts.some((part) => typeof part === "string" && part.includes("export class Day"));
        super(broken ? [...parts, `
          const simulate = Day.simulate;
          globalThis.cores = (globalThis.cores ?? 0) + 1;
          Day.simulate = (text) => {
            if (text.includes('"123 W/K"')) throw new WebAssembly.RuntimeError("unreachable");
            return simulate(text);
          };`] : parts, options);
      }
    };
  });
  await page.goto(address);
  await ready(page);
  const numbers = await cells(page);
  await type(page, box(page, "cooler.ua"), "123");
  await page.waitForFunction(() => document.querySelector("#problem-title").textContent === "The computation stopped.");
  await page.waitForFunction(() => globalThis.cores === 2);
  assert.deepEqual(await cells(page), numbers);
  await type(page, box(page, "cooler.ua"), "140");
  assert.notDeepEqual(await cells(page), numbers);
  assert.equal(await page.locator("#problem").isVisible(), false);
  assert.deepEqual([log.failed, log.requests], [[], []]);
  await context.close();
});

test("without storage it opens and computes all the same", async () => {
  const { page, context, log } = await openPage(browser, address, { offline: true, path: null });
  await context.addInitScript(() => Object.defineProperty(window, "localStorage", { get() { throw new DOMException("denied", "SecurityError"); } }));
  await page.goto(address);
  await ready(page);
  const was = await launchDegrees(page);
  await type(page, box(page, "air.temperature"), "101");
  assert.notDeepEqual(await launchDegrees(page), was);
  assert.deepEqual([log.errors, log.failed, log.requests], [[], [], []]);
  await context.close();
});

test("its policy lets in nothing from outside", async () => {
  const { page, context } = await openPage(browser, address, { offline: true, path: null });
  await page.goto(address);
  await ready(page);
  const refused = await page.evaluate(async () => {
    const seen = [];
    document.addEventListener("securitypolicyviolation", ({ effectiveDirective }) => seen.push(effectiveDirective));
    await fetch("https://example.org/").catch(() => null);
    document.body.append(Object.assign(document.createElement("script"), { textContent: "window.got = 1" }));
    document.body.append(Object.assign(document.createElement("style"), { textContent: "p { color: red }" }));
    document.body.append(Object.assign(document.createElement("img"), { src: "https://example.org/a.png" }));
    await new Promise((go) => setTimeout(go, 200));
    return { seen: seen.sort(), got: window.got ?? null };
  });
  assert.deepEqual(refused, { seen: ["connect-src", "img-src", "script-src-elem", "style-src-elem"], got: null });
  await context.close();
});
