// What every page test needs: the built page on a port of its own, a fresh browser, and a record of
// everything that went wrong or left the page's own origin.
//
// Environment:
//   STALLHEAT_SITE  a folder written by `stallheat build`; without it the sources are built first
//   STALLHEAT_SINGLE  a file written by `stallheat build --single`; without it, it is built
//   STALLHEAT_BIN   the program; without it the newest of release and debug in cargo's target folder
//   CHROMIUM        the browser; without it the first one found on the search path

import { execFileSync, spawn } from "node:child_process";
import assert from "node:assert/strict";
import { accessSync, constants, cpSync, mkdirSync, readFileSync, statSync } from "node:fs";
import { createRequire } from "node:module";
import { delimiter, dirname, join, resolve } from "node:path";
import { createInterface } from "node:readline";
import { fileURLToPath, pathToFileURL } from "node:url";
import { chromium } from "playwright-core";

export const root = resolve(dirname(fileURLToPath(import.meta.url)), "../..");
const target = resolve(root, process.env.CARGO_TARGET_DIR ?? "target");

const BROWSER_NAMES = ["chromium", "chromium-browser", "google-chrome", "google-chrome-stable"];
const BROWSER_ARGUMENTS = [
  "--no-sandbox",
  "--disable-gpu",
  "--disable-quic",
  "--no-first-run",
  "--disable-background-networking",
  "--disable-component-update",
  "--disable-sync",
];
// The first start from sources compiles the core.
const START_LIMIT_MS = 10 * 60_000;

/** Launches a browser with nothing of ours in it. */
export const startBrowser = () => chromium.launch({ executablePath: findBrowser(), args: BROWSER_ARGUMENTS });

/**
 * Serves the page on a free port and launches a browser.
 *
 * Returns `{ url, browser, open, close }`; `url` ends with a slash. `open(options)` gives a page of its
 * own, without anything stored; `close()` ends browser and server.
 */
export async function startSite() {
  const server = await startServer();
  let browser;
  try {
    browser = await startBrowser();
  } catch (error) {
    server.stop();
    throw error;
  }
  return {
    url: server.url,
    browser,
    open: (options) => openPage(browser, server.url, options),
    async close() {
      await browser.close();
      server.stop();
    },
  };
}

/**
 * Opens a page in a fresh context and goes to `path` (relative to the site; `null` stays blank).
 *
 * Other options: `width`, `height` in CSS pixels, `colorScheme` ("light", "dark"), `deviceScaleFactor`,
 * `hasTouch`, `isMobile`, `reducedMotion` ("reduce"), `offline` (the browser may keep the page), `context` (any further context options).
 *
 * Returns `{ page, context, log, close }`. The log fills itself:
 * `console` [{type, text}], `errors` (uncaught, as text), `failed` [{url, reason}] (status 400 and
 * above, or no answer), `requests` (every address asked for, data: and blob: left out).
 */
export async function openPage(browser, url, options = {}) {
  const { path = "", width = 1280, height = 800, offline = false, context: more, ...known } = options;
  const context = await browser.newContext({ viewport: { width, height }, ...known, ...more });
  // What a browser keeps of the page is the business of one test: the others see what the server has.
  if (!offline) await context.addInitScript(() => Object.defineProperty(Navigator.prototype, "serviceWorker", { value: undefined }));
  const page = await context.newPage();
  const log = record(page, context);
  if (path !== null) await page.goto(new URL(path, url).href);
  return { page, context, log, close: () => context.close() };
}

function record(page, context) {
  const log = { console: [], errors: [], failed: [], requests: [] };
  page.on("console", (message) => {
    log.console.push({ type: message.type(), text: message.text() });
  });
  page.on("pageerror", (error) => log.errors.push(String(error?.stack ?? error)));
  // The context sees what workers and frames ask for, too.
  context.on("request", (request) => {
    if (/^https?:|^wss?:/.test(request.url())) log.requests.push(request.url());
  });
  context.on("requestfailed", (request) => {
    // A page that is left or loaded anew before its icon has come breaks off asking for it.
    if (/\/favicon\.svg$/.test(request.url()) && request.failure()?.errorText === "net::ERR_ABORTED") return;
    log.failed.push({ url: request.url(), reason: request.failure()?.errorText ?? "failed" });
  });
  context.on("response", (response) => {
    if (response.status() >= 400) log.failed.push({ url: response.url(), reason: response.status() });
  });
  return log;
}

/**
 * Has the page find each module of `www/` by its own name, too: `import(new URL("link.js", …))`. The site holds them put
 * together in few files, so a module that a test imports is one more of its kind, with a state of its own.
 */
export const withModules = (page) => page.route(/\/v-[0-9a-f]+\/[\w-]+\.js$/, async (route) => {
  const answer = await route.fetch();
  if (answer.status() !== 404) return route.fulfill({ response: answer });
  const name = new URL(route.request().url()).pathname.split("/").pop();
  const contentType = "text/javascript";
  // The build makes this one; of what stands in it, tests of single modules need a day.
  const examples = () => [{ key: "saturday_bracket_day", text: readFileSync(join(root, "scenarios/saturday_bracket_day.json"), "utf8") }];
  if (name === "known.js") return route.fulfill({ contentType, body: `export const known = ${JSON.stringify({ us: {}, examples: examples() })};` });
  return route.fulfill({ path: join(root, "www", name), contentType });
});

/** axe-core as text, to be evaluated in the page: its policy allows no other script. */
export const axeSource = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");

/** Waits until the page has computed its day and shows it everywhere. */
export const ready = (page) => page.waitForFunction(() =>
  document.querySelector("#version")?.textContent && !document.documentElement.hasAttribute("data-behind"));

/** Opens a page of `site` as `site.open` does, with its day computed. */
export async function openDayOf(site, options) {
  const opened = await site.open(options);
  await ready(opened.page);
  return opened;
}

/** One solve per frame: after two frames whatever was changed is drawn, a little later also what is out of sight. */
export const settled = (page) => page.evaluate(async () => {
  const frame = () => new Promise(requestAnimationFrame);
  await frame();
  await frame();
  const start = performance.now();
  while (document.documentElement.hasAttribute("data-behind")) {
    if (performance.now() - start > 20_000) throw new Error(`parts of the page still wait: ${document.documentElement.dataset.behind || "out of sight"}`);
    await frame();
  }
});
export const text = (page, selector) => page.locator(selector).textContent();
/** What axe finds in the page, small targets too: [[rule, count, first places]]. */
export async function findViolations(page) {
  await page.evaluate(axeSource);
  return page.evaluate(async () => {
    // What has been scrolled halfway under the bar with the key numbers and its buttons is no small target.
    scrollTo(0, 0);
    const { violations } = await window.axe.run(document, { rules: { "target-size": { enabled: true } } });
    return violations.map(({ id, nodes }) => [id, nodes.length, nodes.slice(0, 3).map((node) => `${node.html.slice(0, 160)} ${node.any[0]?.message ?? ""}`)]);
  });
}

/** The launches as they stand in their table. */
export const cells = (page) => page.locator("#launch-rows tr").evaluateAll((rows) => rows.map((row) => [...row.cells].map((cell) => cell.textContent)));
/** Launches as [converter, pan], whole degrees. */
export const launchDegrees = async (page) => (await cells(page)).map((row) => [Number(row[2]), Number(row[3])]);
/** The cells of a table's rows as text. */
export const tableRows = (page, selector) => page.locator(`${selector} tr`).evaluateAll((all) => all.map((row) => [...row.cells].map((cell) => cell.textContent)));
/** Opens a disclosure of "What if" by the keyboard, as a click would. */
export async function openPart(page, id) {
  await page.locator(`#what-if-${id} > summary`).focus();
  await page.keyboard.press("Enter");
  await page.locator(`#what-if-${id}[open] .what-if-body > *`).first().waitFor({ state: "attached" });
}
/** Presses a button by the keyboard. */
export async function press(page, selector) {
  await page.locator(selector).focus();
  await page.keyboard.press("Enter");
  await settled(page);
}
/** The work as the browser keeps it. */
export const kept = (page) => page.evaluate(async () => {
  // What changed last is written 40 ms later; a timer set now runs after that one.
  await new Promise((done) => setTimeout(done, 50));
  return JSON.parse(localStorage.getItem("stallheat.work.1"));
});
export const control = (page, path) => page.locator(`.control[data-path="${path}"]`);
export const slider = (page, path) => control(page, path).locator("input[type=range]");
export const box = (page, path) => control(page, path).locator("input.number");

/** Types into a box and waits for what comes of it. */
export async function type(page, locator, value) {
  await locator.fill(value);
  await locator.press("Enter");
  await settled(page);
}

/** Nothing on the console, no error, nothing that could not be fetched. */
export const quiet = (log) => assert.deepEqual([log.console, log.errors, log.failed], [[], [], []]);

/** The addresses in a log that lie outside the site's origin. */
export function strangers(log, url) {
  return log.requests.filter((address) => new URL(address).origin !== new URL(url).origin);
}

/** Writes a picture of the page to `target/screenshots/<name>.png` and returns its path. */
export async function screenshot(page, name, options = {}) {
  const folder = join(target, "screenshots");
  mkdirSync(folder, { recursive: true });
  const path = join(folder, `${name}.png`);
  await page.screenshot({ path, fullPage: true, ...options });
  return path;
}

/** A folder with the built page: STALLHEAT_SITE, else built into `into`. */
export function siteFolder(into) {
  if (process.env.STALLHEAT_SITE) return resolve(root, process.env.STALLHEAT_SITE);
  execFileSync(findProgram(), ["build", "--out", into], { stdio: "ignore" });
  return into;
}

/** The page as one file at `into`, built from the sources; STALLHEAT_SINGLE names one that is built already. */
export function singleFile(into) {
  if (process.env.STALLHEAT_SINGLE) cpSync(resolve(root, process.env.STALLHEAT_SINGLE), into);
  else execFileSync(findProgram(), ["build", "--single", "--out", into], { stdio: "ignore" });
  return pathToFileURL(into).href;
}

function startServer() {
  const site = process.env.STALLHEAT_SITE;
  const what = site ? ["--built", resolve(root, site)] : ["--no-watch"];
  const child = spawn(findProgram(), ["serve", "--port", "0", ...what], {
    stdio: ["ignore", "pipe", "inherit"],
  });
  const stop = () => child.kill();
  process.once("exit", stop);
  return new Promise((done, fail) => {
    const timer = setTimeout(() => {
      stop();
      fail(new Error(`no address from the server within ${START_LIMIT_MS / 1000} s`));
    }, START_LIMIT_MS);
    child.once("error", fail);
    child.once("exit", (code) => {
      clearTimeout(timer);
      fail(new Error(`the server ended with ${code}`));
    });
    createInterface(child.stdout).on("line", (line) => {
      const url = line.match(/^stallheat: (http:\S+)$/)?.[1];
      if (!url) return;
      clearTimeout(timer);
      done({ url, stop });
    });
  });
}

/** The program: STALLHEAT_BIN, else the newest in the target folder. */
export function findProgram() {
  if (process.env.STALLHEAT_BIN) return process.env.STALLHEAT_BIN;
  const name = process.platform === "win32" ? "stallheat.exe" : "stallheat";
  const changed = (path) => statSync(path, { throwIfNoEntry: false })?.mtimeMs ?? 0;
  const [newest] = ["release", "debug"]
    .map((profile) => join(target, profile, name))
    .filter((path) => changed(path) > 0)
    .sort((a, b) => changed(b) - changed(a));
  if (!newest) throw new Error(`no program in ${target}: run \`cargo build --release\` first`);
  return newest;
}

function findBrowser() {
  if (process.env.CHROMIUM) return process.env.CHROMIUM;
  const folders = ["/usr/bin", ...(process.env.PATH ?? "").split(delimiter)];
  for (const name of BROWSER_NAMES) {
    for (const folder of folders) {
      const path = join(folder, name);
      try {
        accessSync(path, constants.X_OK);
        return path;
      } catch {
        // The next one.
      }
    }
  }
  throw new Error(`no browser: install chromium, or set CHROMIUM (looked for ${BROWSER_NAMES.join(", ")})`);
}
