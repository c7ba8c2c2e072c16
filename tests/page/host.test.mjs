// The built folder works on a plain static host, below a path, and in a frame of another origin.

import assert from "node:assert/strict";
import { readFile } from "node:fs/promises";
import { createServer } from "node:http";
import { extname, join, resolve, sep } from "node:path";
import { after, before, test } from "node:test";
import { root, startSite } from "./harness.mjs";

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
