// The built folder works on a plain static host, below a path, in a frame of another origin, and with its own headers.

import assert from "node:assert/strict";
import { readFile } from "node:fs/promises";
import { createServer } from "node:http";
import { extname, join, resolve, sep } from "node:path";
import { after, before, test } from "node:test";
import { findViolations, openPart, root, startSite } from "./harness.mjs";

const folder = process.env.STALLHEAT_SITE && resolve(root, process.env.STALLHEAT_SITE);
const skip = folder ? false : "STALLHEAT_SITE names no built folder";
const PREFIX = "/shop/tools/stallheat/";
const TYPES = { ".html": "text/html", ".js": "text/javascript", ".css": "text/css", ".svg": "image/svg+xml" };

let site, host, address;
before(async () => {
  if (skip) return;
  site = await startSite();
  host = createServer(answer).listen(0, "127.0.0.1");
  await new Promise((done) => host.once("listening", done));
  address = `http://127.0.0.1:${host.address().port}`;
});
after(async () => {
  host?.closeAllConnections();
  host?.close();
  await site?.close();
});

// Knows no `application/wasm`, as many a simple host.
async function answer(request, response) {
  const { pathname } = new URL(request.url, "http://host");
  if (pathname === "/frame.html") {
    response.setHeader("Content-Type", "text/html");
    return response.end(`<!doctype html><link rel="icon" href="data:,"><iframe title="x" src="${site.url}?embed=1">`);
  }
  const name = pathname.startsWith(PREFIX) ? pathname.slice(PREFIX.length) || "index.html" : "?";
  const path = join(folder, name);
  const bytes = path.startsWith(folder + sep) && (await readFile(path).catch(() => null));
  response.statusCode = bytes ? 200 : 404;
  response.setHeader("Content-Type", TYPES[extname(name)] ?? "application/octet-stream");
  response.end(bytes || undefined);
}

/** The rules of a file of headers as such hosts read it: [{ pattern, headers: [[name, value]] }]. */
function rules(text) {
  const found = [];
  for (const line of text.split("\n")) {
    if (!line.trim() || line.startsWith("#")) continue;
    if (line.startsWith("/")) {
      found.push({ pattern: new RegExp(`^${line.split("*").map((part) => part.replace(/[.?+^$()[\]{}|\\]/g, "\\$&")).join(".*")}$`), headers: [] });
    } else {
      const [, name, value] = line.match(/^ {2}([A-Za-z-]+): (\S.*)$/);
      found.at(-1).headers.push([name, value]);
    }
  }
  return found;
}

const hasVersion = () => document.querySelector("#version")?.textContent;

test("below a path of a host that knows no WebAssembly", { skip }, async () => {
  const { page, log, close } = await site.open({ path: null });
  await page.goto(address + PREFIX);
  await page.waitForFunction(hasVersion);
  assert.deepEqual([log.errors, log.failed], [[], []]);
  assert.ok(log.requests.every((request) => request.startsWith(address + PREFIX)), log.requests.join("\n"));
  await close();
});

test("in a frame of another origin", { skip }, async () => {
  const { page, log, close } = await site.open({ path: null });
  await page.goto(`${address.replace("127.0.0.1", "localhost")}/frame.html`);
  const frame = await (await page.waitForSelector("iframe")).contentFrame();
  await frame.waitForFunction(hasVersion);
  assert.deepEqual([log.console, log.errors, log.failed], [[], [], []]);
  await close();
});

test("with the headers of the file that hosts read", { skip }, async () => {
  const all = rules(await readFile(join(folder, "_headers"), "utf8"));
  const given = (path) => all.filter(({ pattern }) => pattern.test(path)).flatMap(({ headers }) => headers);
  const strict = createServer(async (request, response) => {
    const path = decodeURIComponent(new URL(request.url, "http://host").pathname);
    const name = path === "/" ? "index.html" : path.slice(1);
    const bytes = name === "_headers" ? null : await readFile(join(folder, name)).catch(() => null);
    response.statusCode = bytes ? 200 : 404;
    if (TYPES[extname(name)]) response.setHeader("Content-Type", TYPES[extname(name)]);
    for (const [header, value] of given(path)) response.setHeader(header, value);
    response.end(bytes || undefined);
  }).listen(0, "127.0.0.1");
  await new Promise((done) => strict.once("listening", done));
  try {
    // No address gets one header twice: hosts differ in what they make of it.
    const { page, log, close } = await site.open({ path: null, offline: true });
    const answers = [];
    page.on("response", (response) => answers.push(response));
    await page.goto(`http://localhost:${strict.address().port}/`);
    await page.waitForFunction(() => document.querySelector("#offline").textContent === "Ready offline.");
    await openPart(page, "plan");
    await page.waitForFunction(() => document.querySelector("#plan-says")?.textContent, null, { timeout: 60_000 });
    await page.locator("#bench-part > summary").click();
    await page.locator("[data-bench='unit.number']").waitFor();
    assert.deepEqual([log.console, log.errors, log.failed], [[], [], []]);
    const paths = [...new Set(answers.map((answer) => new URL(answer.url()).pathname))];
    for (const kind of ["/", "main.js", "later.js", "core/stallheat.js", "core/stallheat_bg.wasm", "later/stallheat_later.wasm", "stallheat_jobs_bg.wasm", "style.css", "benchsheet.css"]) {
      assert.ok(paths.some((path) => path.endsWith(kind)), `${kind}: ${paths}`);
    }
    for (const path of paths) {
      const names = given(path).map(([name]) => name.toLowerCase());
      assert.equal(new Set(names).size, names.length, `${path}: ${names}`);
      const caching = given(path).find(([name]) => name === "Cache-Control")?.[1];
      if (path.startsWith("/v-")) assert.match(caching, /immutable/, path);
      else if (/\/$|html$|sw\.js$/.test(path)) assert.equal(caching, "no-cache", path);
      if (path.endsWith(".wasm")) assert.ok(given(path).some(([name, value]) => name === "Content-Type" && value === "application/wasm"), path);
    }
    // What is new can be read there, and leads back.
    await page.getByRole("link", { name: "What is new" }).click();
    await page.locator("h1").waitFor();
    assert.equal(await page.locator("h1").textContent(), "What is new");
    assert.match(await page.locator("h2").first().textContent(), /^\d+\.\d+\.\d+$/);
    await page.setViewportSize({ width: 320, height: 640 });
    assert.equal(await page.evaluate(() => document.documentElement.scrollWidth), 320);
    assert.deepEqual(await findViolations(page), []);
    await page.locator("header a").click();
    await page.waitForFunction(hasVersion);
    assert.match(await page.locator("#build").textContent(), /^[0-9a-f]{8}$/);
    assert.deepEqual([log.console, log.errors, log.failed], [[], [], []]);
    await close();
  } finally {
    strict.closeAllConnections();
    strict.close();
  }
});
