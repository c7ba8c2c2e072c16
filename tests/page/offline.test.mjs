// Without signal: the page is kept whole, a newer build waits until it is asked for and never mixes with the old one, and
// a build can clear what browsers keep.
import assert from "node:assert/strict";
import { cpSync, mkdtempSync, readdirSync, readFileSync, renameSync, rmSync, writeFileSync } from "node:fs";
import { createServer } from "node:http";
import { tmpdir } from "node:os";
import { extname, join } from "node:path";
import { after, before, test } from "node:test";
import { box, openPart, ready, screenshot, root, siteFolder, startSite, type } from "./harness.mjs";

const TYPES = { ".html": "text/html", ".js": "text/javascript", ".css": "text/css", ".wasm": "application/wasm", ".svg": "image/svg+xml", ".json": "application/json", ".png": "image/png", ".webmanifest": "application/manifest+json" };

let site;
let folder; // with the builds
let host; // serves one of them
let served = "first";
let asked = [];
let sendsOn = false; // from `lessons.html` to `lessons`, as some hosts do

/** The same page as another build: another version, and a title of its own. */
function another(from, to, version) {
  cpSync(join(folder, from), join(folder, to), { recursive: true });
  const own = readdirSync(join(folder, to)).find((name) => name.startsWith("v-"));
  renameSync(join(folder, to, own), join(folder, to, `v-${version}`));
  for (const name of [...readdirSync(join(folder, to)).filter((name) => name.endsWith(".html")), "sw.js"]) {
    const path = join(folder, to, name);
    writeFileSync(path, readFileSync(path, "utf8").replaceAll(own.slice(2), version));
  }
  const page = join(folder, to, "index.html");
  writeFileSync(page, readFileSync(page, "utf8").replace(/<title>[^<]*/, `<title>${to}`));
}

before(async () => {
  site = await startSite();
  folder = mkdtempSync(join(tmpdir(), "builds-"));
  cpSync(siteFolder(join(folder, "built")), join(folder, "first"), { recursive: true });
  another("first", "second", "0123456789abcdef");
  another("second", "cleared", "fedcba9876543210");
  cpSync(join(root, "www/sw-off.js"), join(folder, "cleared/sw.js"));
  host = createServer((request, response) => {
    // In a folder of its host, as a shop may have it.
    const path = new URL(request.url, "http://localhost").pathname;
    if (sendsOn && path.endsWith(".html")) {
      response.writeHead(308, { location: path.replace(/(index)?\.html$/, "") }).end();
      return;
    }
    let name = path.replace(/^\/heat\//, "") || "index.html";
    if (sendsOn && !extname(name)) name += ".html";
    asked.push(name);
    try {
      const bytes = readFileSync(join(folder, served, name));
      response.writeHead(200, { "content-type": TYPES[extname(name)] ?? "text/plain", "cache-control": name.startsWith("v-") ? "max-age=31536000, immutable" : "no-cache" });
      response.end(bytes);
    } catch {
      response.writeHead(404).end();
    }
  });
  await new Promise((go) => host.listen(0, "127.0.0.1", go));
});

after(async () => {
  await site?.close();
  await new Promise((go) => host.close(go));
  rmSync(folder, { recursive: true, force: true });
});

const address = () => `http://localhost:${host.address().port}/heat/`;

/** A page of the host that may be kept. */
async function open() {
  [served, asked] = ["first", []];
  const opened = await site.open({ path: null, offline: true });
  await opened.page.goto(address());
  await ready(opened.page);
  await saidReady(opened.page);
  return opened;
}

const saidReady = (page) => page.waitForFunction(() => document.querySelector("#offline").textContent === "Ready offline.");
const OFF = "Not kept for use without signal: this build is without that.";
const versionOf = (page) => page.evaluate(() => [...new Set(performance.getEntriesByType("resource").map(({ name }) => name.match(/\/v-(\w+)\//)?.[1]).filter(Boolean))]);

test("with the network off it opens, computes and plans; the reader's day is there", async () => {
  const { page, context, log, close } = await open();
  await type(page, box(page, "air.temperature"), "101");
  await context.setOffline(true);
  const before = asked.length;
  await page.reload();
  await ready(page);
  await saidReady(page);
  assert.equal(await box(page, "air.temperature").inputValue(), "101");
  // The worker's core is kept, too: it is fetched only when something long is asked.
  await openPart(page, "plan");
  await page.waitForFunction(() => /\d/.test(document.querySelector("#plan-says")?.textContent ?? ""));
  assert.equal(asked.length, before, asked.slice(before).join());
  assert.deepEqual(log.errors, []);
  await close();
});

test("a newer build waits, is offered, and takes all of the page or nothing", async () => {
  const { page, log, close } = await open();
  const [old] = await versionOf(page);
  const other = await page.context().newPage();
  await other.goto(address());
  await ready(other);
  served = "second";
  await page.evaluate(async () => (await navigator.serviceWorker.getRegistration()).update());
  await page.locator("#newer").waitFor({ state: "visible" });
  // Until then the old one is whole, though its host has it no more.
  await page.reload();
  await ready(page);
  assert.deepEqual(await versionOf(page), [old]);
  await page.locator("#newer").waitFor({ state: "visible" });
  await screenshot(page, "newer-version", { fullPage: false });
  await Promise.all([page.waitForURL(address() + "**", { waitUntil: "load" }), page.waitForEvent("framenavigated"), page.locator("#newer-now").click()]);
  for (const one of [page, other]) {
    await one.waitForFunction(() => document.title === "second");
    await ready(one);
    assert.deepEqual(await versionOf(one), ["0123456789abcdef"]);
    assert.ok(await one.locator("#newer").isHidden());
  }
  assert.equal(await page.evaluate(async () => (await caches.keys()).length), 1);
  assert.deepEqual(log.errors, []);
  await close();
});

test("ready is said of what is in the store: what was thrown out is fetched again, or named as lacking", async () => {
  const { page, close } = await open();
  const throwOut = (what) => page.evaluate(async (what) => {
    for (const name of await caches.keys()) {
      const store = await caches.open(name);
      for (const request of await store.keys()) if (request.url.includes(what)) await store.delete(request);
    }
  }, what);
  const count = () => page.evaluate(async () => (await (await caches.open((await caches.keys())[0])).keys()).length);
  const all = await count();
  await throwOut("");
  assert.equal(await count(), 0);
  await page.reload();
  await ready(page);
  await saidReady(page);
  assert.equal(await count(), all);
  // The page opens without its teacher's page, and yet is not whole.
  await throwOut("teach.html");
  served = "nowhere";
  await page.reload();
  await ready(page);
  await page.waitForFunction(() => document.querySelector("#offline").textContent.startsWith("Not all of the page is kept"));
  assert.equal(await count(), all - 1);
  // A host that has gone on has no files of this build: two halves are not kept.
  await throwOut("index.html");
  served = "second";
  const kept = await page.evaluate(async () => {
    const { port1, port2 } = new MessageChannel();
    const answer = new Promise((done) => port1.addEventListener("message", ({ data }) => done(data)));
    port1.start();
    (await navigator.serviceWorker.getRegistration()).active.postMessage("all kept?", [port2]);
    return answer;
  });
  assert.equal(kept, false);
  assert.equal(await page.evaluate(async () => (await Promise.all((await caches.keys()).map(async (name) => (await caches.open(name)).match("index.html")))).filter(Boolean).length), 0);
  await close();
});

test("a host that leaves .html out of its addresses is kept, too, and opens with the network off", async () => {
  sendsOn = true;
  try {
    const { page, context, log, close } = await open();
    for (const off of [false, true]) {
      await context.setOffline(off);
      for (const [path, seen] of [["", "#finding"], ["index.html", "#finding"], ["lessons.html", ".lesson-list"], ["lessons", ".lesson-list"], ["teach", "h1"]]) {
        await page.goto(address() + path);
        await page.locator(seen).first().waitFor();
      }
    }
    assert.deepEqual(log.errors, []);
    await close();
  } finally {
    sendsOn = false;
  }
});

test("the kill switch clears what was kept and loads the page anew from its host", async () => {
  const { page, close } = await open();
  served = "cleared";
  await page.evaluate(async () => (await navigator.serviceWorker.getRegistration()).update());
  await page.waitForFunction(() => document.title === "cleared");
  await ready(page);
  assert.deepEqual(await page.evaluate(() => caches.keys()), []);
  assert.deepEqual(await versionOf(page), ["fedcba9876543210"]);
  await page.waitForFunction((off) => document.querySelector("#offline").textContent === off, OFF);
  await close();
  // Who comes for the first time is told the same, and no fault of the connection.
  const first = await site.open({ path: null, offline: true });
  await first.page.goto(address());
  await first.page.waitForFunction((off) => document.querySelector("#offline").textContent === off, OFF);
  assert.deepEqual(await first.page.evaluate(() => caches.keys()), []);
  await first.close();
});

test("a page inside another one keeps nothing; the manifest and its pictures are there", async () => {
  const { page, close } = await site.open({ path: null, offline: true });
  served = "first";
  await page.goto(`${address()}icon-192.png`);
  await page.evaluate((src) => {
    const frame = document.createElement("iframe");
    document.body.append(Object.assign(frame, { src }));
  }, address());
  const inside = page.frameLocator("iframe");
  await inside.locator("#key-peak:not(:empty)").waitFor();
  await page.waitForTimeout(500);
  assert.equal(await page.evaluate(async () => (await navigator.serviceWorker.getRegistrations()).length), 0);
  const manifest = await (await page.request.get(`${address()}stallheat.webmanifest`)).json();
  for (const { src, type } of manifest.icons) {
    const answer = await page.request.get(address() + src);
    assert.ok(answer.ok() && answer.headers()["content-type"] === type, src);
  }
  await close();
});
