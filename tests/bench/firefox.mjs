// The page, the worker, a lesson, a view and the one file in Firefox: `node tests/bench/firefox.mjs`. Not part of tests/run:
// it needs Debian's firefox-esr (or FIREFOX) and `npm install --no-save --prefix tests/page puppeteer-core`, which speaks
// the protocol that Firefox has of its own. Prints what each shows; fails where something is missing or the console is not
// quiet.
import assert from "node:assert/strict";
import { execFileSync } from "node:child_process";
import { mkdtempSync, rmSync } from "node:fs";
import { createRequire } from "node:module";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { pathToFileURL } from "node:url";
import { findProgram, root, startSite } from "../page/harness.mjs";

const puppeteer = (await import(pathToFileURL(createRequire(join(root, "tests/page/harness.mjs")).resolve("puppeteer-core")).href)).default;
const folder = mkdtempSync(join(tmpdir(), "stallheat-firefox-"));
const one = join(folder, "stallheat.html");
execFileSync(findProgram(), ["build", "--single", "--out", one], { cwd: root, stdio: "ignore" });
const site = await startSite();
const browser = await puppeteer.launch({ browser: "firefox", executablePath: process.env.FIREFOX ?? "/usr/bin/firefox-esr", headless: true });
const page = await browser.newPage();
const log = [];
page.on("console", (message) => log.push(message.text()));
page.on("pageerror", (error) => log.push(String(error)));

/** The page's policy allows no text to be made code, so conditions are asked again and again. */
async function until(test, what) {
  const end = Date.now() + 60_000;
  while (!(await page.evaluate(test))) {
    assert.ok(Date.now() < end, what);
    await new Promise((resolve) => setTimeout(resolve, 100));
  }
}
const text = (selector) => page.$eval(selector, (node) => node.textContent);
const computed = () => until(() => Boolean(document.querySelector("#version")?.textContent) && !document.documentElement.hasAttribute("data-behind"), "the day is computed");

async function dayAndPlan(name) {
  await computed();
  const peak = await text("#key-peak");
  await page.$eval(".control input[type=range]", (input) => {
    input.value = input.max;
    input.dispatchEvent(new Event("input", { bubbles: true }));
    input.dispatchEvent(new Event("change", { bubbles: true }));
  });
  await computed();
  assert.notEqual(await text("#key-peak"), peak, `${name}: a slider moves the numbers`);
  await page.$eval("#what-if-plan > summary", (node) => node.click());
  await until(() => Boolean(document.querySelector("#plan-says")?.textContent), `${name}: the worker plans`);
  console.log(`${name}: ${await text("#finding")} ${await text("#plan-says")}`);
}

console.log(await browser.version());
await page.goto(site.url);
await dayAndPlan("page");
await page.goto(new URL("lessons.html#shut-off/2", site.url).href);
await until(() => Boolean(document.querySelector(".lesson-chart .curve")), "a lesson runs");
console.log(`lesson: ${await text(".finding")}`);
await page.goto(new URL("embed.html?example=saturday_bracket_day&controls=cooler.ua", site.url).href);
await until(() => /launch/.test(document.body.innerText) && document.querySelector("canvas")?.width > 0, "a view shows its day");
console.log("view: shown");
await page.goto(pathToFileURL(one).href);
await dayAndPlan("one file");
assert.deepEqual(log, []);
console.log("console: quiet");
await browser.close();
await site.close();
rmSync(folder, { recursive: true });
