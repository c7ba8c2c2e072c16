// The view within a page of another origin, that has a strict policy of its own: as a frame and as an element.
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { createServer } from "node:http";
import { extname, join, resolve, sep } from "node:path";
import { after, before, test } from "node:test";
import { findViolations, ready, root, screenshot, siteFolder, startSite, text } from "./harness.mjs";

const TYPES = { ".html": "text/html", ".js": "text/javascript", ".css": "text/css", ".wasm": "application/wasm", ".svg": "image/svg+xml" };
const PREFIX = "/shop/tools/stallheat/";
const FIRST = "saturday_bracket_day";

let site;
let folder;
let host; // another origin, with the page around
let statics; // the built folder below a path, as any host has it
let statically = {}; // headers that `statics` sends
let pages = {}; // of the host, by path

const HOST_STYLE = "body { margin: 0; font: 16px serif; background: #e8e2d0 } h1, p { margin: 12px }  main { max-width: 1000px }  iframe { display: block; border: 0; width: 100% }";
// What a page around takes down of all that comes to it.
const HOST_SCRIPT = `
  window.heard = [];
  addEventListener("message", ({ data, origin, source }) => {
    const place = [...document.querySelectorAll("iframe")].findIndex((frame) => frame.contentWindow === source);
    heard.push({ data, origin, place });
    const frame = document.querySelectorAll("iframe")[place];
    if (frame && data?.stallheat === 1 && data.type === "height") frame.height = data.height_px;
  });
  window.events = [];
  for (const name of ["ready", "state", "result", "error"]) {
    document.addEventListener("stallheat-" + name, ({ target, detail }) => events.push({ id: target.id, name, detail }), true);
  }`;

const listening = (server) => new Promise((done) => server.listen(0, "127.0.0.1", () => done(server)));
const portOf = (server) => server.address().port;
const hostOrigin = () => `http://localhost:${portOf(host)}`;
const staticAddress = () => `http://127.0.0.1:${portOf(statics)}${PREFIX}`;

before(async () => {
  site = await startSite();
  folder = siteFolder(join(root, "target/site-embed"));
  host = await listening(createServer(({ url }, response) => {
    const { pathname } = new URL(url, "http://host");
    const files = { "/host.css": ["text/css", HOST_STYLE], "/host.js": ["text/javascript", HOST_SCRIPT], "/favicon.ico": ["image/x-icon", ""] };
    const [type, body] = files[pathname] ?? ["text/html", pages[pathname] ?? ""];
    const frames = `${new URL(site.url).origin} http://127.0.0.1:${portOf(statics)}`;
    response.writeHead(200, {
      "content-type": `${type}; charset=utf-8`,
      "content-security-policy": `default-src 'none'; frame-src ${frames}; script-src 'self' ${frames}; style-src 'self'; img-src 'self'`,
    });
    response.end(body);
  }));
  statics = await listening(createServer(({ url }, response) => {
    const { pathname } = new URL(url, "http://host");
    const name = pathname.startsWith(PREFIX) ? pathname.slice(PREFIX.length) || "index.html" : "?";
    const path = resolve(folder, name);
    let bytes = null;
    try {
      if (path.startsWith(resolve(folder) + sep)) bytes = readFileSync(path);
    } catch {
      // Said by the status.
    }
    response.writeHead(bytes ? 200 : 404, { "content-type": TYPES[extname(name)] ?? "application/octet-stream", ...statically });
    response.end(bytes ?? undefined);
  }));
});
after(async () => {
  for (const server of [host, statics]) {
    server?.closeAllConnections();
    server?.close();
  }
  await site?.close();
});

const page = (body) => `<!doctype html><html lang="en"><head><title>A shop</title><link rel="stylesheet" href="/host.css"><script src="/host.js"></script></head>
  <body><main><h1>A shop’s page</h1><p>Words of the shop.</p>${body}<p>More words of the shop.</p></main></body></html>`;
const frameTag = (query = "", hash = "", more = "", base = site.url) =>
  `<iframe title="The day" height="500" sandbox="allow-scripts allow-same-origin allow-popups allow-popups-to-escape-sandbox" ${more} src="${base}embed.html?${query.replaceAll("&", "&amp;")}${hash}"></iframe>`;
const elementTag = (attributes = "", base = site.url) => `<script src="${base}embed.js" async></script><stallheat-view ${attributes}></stallheat-view>`;

/** Opens a page of the other origin with this in it. */
async function around(body, options = {}) {
  pages["/"] = page(body);
  const opened = await site.open({ path: null, ...options });
  await opened.page.goto(`${hostOrigin()}/`);
  return opened;
}

const computed = (frame) => frame.waitForFunction(() => /\d/.test(document.querySelector("#key-peak")?.textContent ?? ""));
/** The documents of the views, in the order of the page, each with its day computed. */
async function views(page, count = 1) {
  await page.waitForFunction((wanted) => {
    const frames = [...document.querySelectorAll("iframe"), ...[...document.querySelectorAll("stallheat-view")].flatMap((one) => [...one.shadowRoot?.querySelectorAll("iframe") ?? []])];
    return frames.length >= wanted;
  }, count);
  const handles = [...(await page.$$("iframe"))];
  const frames = [];
  for (const handle of handles) frames.push(await handle.contentFrame());
  for (const frame of frames) await computed(frame);
  return frames;
}
const quiet = (log) => assert.deepEqual([log.console, log.errors, log.failed], [[], [], []]);
const keys = (frame) => frame.$$eval(".keys dd", (all) => all.map((one) => one.textContent));

test("a frame and an element on one page", async () => {
  const { page, log, close } = await around(frameTag() + elementTag('id="two" height="700"'), { width: 1000, height: 900 });
  const [one, two] = await views(page, 2);
  assert.deepEqual(await keys(one), await keys(two));
  console.log(await keys(one));
  await page.waitForTimeout(500);
  await screenshot(page, "embed-both-1000");
  quiet(log);
  await close();
});
