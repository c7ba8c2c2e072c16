// The view within a page of another origin, that has a strict policy of its own: as a frame and as an element.
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { createServer } from "node:http";
import { extname, join, resolve, sep } from "node:path";
import { after, before, test } from "node:test";
import { findViolations, quiet, ready, root, screenshot, siteFolder, startSite, text } from "./harness.mjs";

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
    const frames = `${new URL(site.url).origin} http://127.0.0.1:${portOf(statics)} http://localhost:${portOf(statics)}`;
    response.writeHead(200, {
      "content-type": `${type}; charset=utf-8`,
      "content-security-policy": `default-src 'none'; frame-src 'self' ${frames}; script-src 'self' ${frames}; style-src 'self'; img-src 'self'`,
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
const keys = (frame) => frame.$$eval(".keys dd", (all) => all.map((one) => one.textContent));

const element = (page, id, act, argument) => page.evaluate(`(${act})(document.getElementById(${JSON.stringify(id)}), ${JSON.stringify(argument)})`);
/** What a `set` of an element comes to: its state, or the error's fields. */
const set = (page, id, wanted) => page.evaluate(([name, what]) => document.getElementById(name).set(what).then(
  ({ type, name: day, units, changed, example, hash, scenario }) => ({ type, day, units, changed, example, hash, setup: scenario.setup }),
  ({ message, field, value, limit, remedy }) => ({ message, field, value, limit, remedy })), [id, wanted]);
const heard = (page, type) => page.evaluate((wanted) => heard.filter(({ data }) => data?.type === wanted).map(({ data }) => data), type);
const told = (page, id, name) => page.evaluate(([of, wanted]) => events.filter((one) => one.id === of && one.name === wanted).map(({ detail }) => detail), [id, name]);
const degrees = async (frame) => (await keys(frame)).map((one) => Number.parseInt(one, 10));
/** Sends from the page around into its first frame, as it is. */
const post = (page, data) => page.evaluate(([what, target]) => document.querySelector("iframe").contentWindow.postMessage(what, target), [data, new URL(site.url).origin]);
const own = () => `origin=${encodeURIComponent(hostOrigin())}`;
const frames = (page) => page.evaluate(() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done))));
const gone = (frame) => frame.waitForFunction(() => /\d/.test(document.querySelector("#key-peak").textContent));

for (const colorScheme of ["light", "dark"]) {
  for (const width of [320, 600, 1000]) {
    test(`frame and element are as tall as what is in them: ${width} px, ${colorScheme}`, async () => {
      const { page, log, close } = await around(frameTag() + elementTag('id="two" height="700" show="finding,keys,chart,launches" locked'), { width, height: 3600, colorScheme });
      const [one, two] = await views(page, 2);
      assert.deepEqual(await keys(one), await keys(two));
      for (const [at, frame] of [one, two].entries()) {
        await frame.waitForFunction(() => Math.abs(innerHeight - Math.ceil(document.querySelector("#view").getBoundingClientRect().height)) <= 1);
        const [across, tall, inner] = await frame.evaluate(() => [document.documentElement.scrollWidth - innerWidth, document.documentElement.scrollHeight, innerHeight]);
        assert.ok(across <= 0 && tall <= inner, `view ${at}: ${across} px too wide, ${tall} px in ${inner}`);
        assert.ok(inner > 500, String(inner));
      }
      // What is made wider or opened is followed, too.
      const before = await one.evaluate(() => innerHeight);
      await one.locator("summary").click();
      await one.waitForFunction((was) => innerHeight > was + 100, before);
      await one.locator("summary").click();
      await one.waitForFunction((was) => innerHeight === was, before);
      await frames(page);
      await screenshot(page, `embed-${width}-${colorScheme}`);
      quiet(log);
      await close();
    });
  }
}

test("several on one page do not mix; set, result and reset go round", async () => {
  const { page, log, close } = await around(elementTag('id="a"') + elementTag(`id="b" units="si" example="test_and_tune_evening"`), { width: 1000, height: 3200 });
  const [a, b] = await views(page, 2);
  const [atFirst, other] = [await keys(a), await keys(b)];
  const answer = await set(page, "a", { parameters: { "cooler.ua": "30 W/K", "air.temperature": "100 °F" } });
  assert.deepEqual([answer.type, answer.changed, answer.setup.cooler.ua, answer.setup.air.temperature], ["state", true, "30 W/K", "100 °F"]);
  const now = await keys(a);
  assert.notDeepEqual(now, atFirst);
  assert.deepEqual(await keys(b), other);
  assert.equal(await a.inputValue(".control[data-path='cooler.ua'] input.number"), "30");
  // The result has in °C what the view shows in °F, to half a degree and its rounding.
  const result = (await told(page, "a", "result")).at(-1);
  const [peak, launch] = await degrees(a);
  assert.ok(Math.abs(result.converter_peak_c * 1.8 + 32 - peak) <= 0.5, `${result.converter_peak_c} °C, ${peak} °F`);
  assert.ok(Math.abs(result.last_launch_pan_c * 1.8 + 32 - launch) <= 0.5, `${result.last_launch_pan_c} °C, ${launch} °F`);
  assert.equal(result.launches.length, 6);
  assert.equal(result.launches.at(-1).pan_c, result.last_launch_pan_c);
  assert.ok(result.launches.every(({ elapsed_s, from_window_k }) => elapsed_s > 5 && elapsed_s < 20 && Number.isFinite(from_window_k)));
  assert.deepEqual((await told(page, "b", "result")).length, 1);
  // Units are the reader's, not the numbers'.
  assert.equal((await set(page, "a", { units: "si" })).units, "si");
  assert.match((await keys(a))[0], /°C$/);
  assert.equal((await told(page, "a", "result")).at(-1).converter_peak_c, result.converter_peak_c);
  // A parameter set to null has its default; reset has the day as it was opened.
  assert.equal((await set(page, "a", { parameters: { "cooler.ua": null }, units: "us" })).setup.cooler.ua, undefined);
  const back = await page.evaluate(() => document.querySelector("#a").reset());
  assert.deepEqual([back.changed, back.scenario.setup.cooler.ua, back.example], [false, "110 W/K", FIRST]);
  assert.deepEqual(await keys(a), atFirst);
  // A whole scenario is another day, and what reset comes back to from then on.
  const scenario = { ...back.scenario, name: "Another day", timeline: back.scenario.timeline.slice(0, 3).concat({ event: "brake_hold", duration: "3 s" }) };
  const another = await set(page, "a", { scenario, parameters: { "air.temperature": "60 °F" } });
  assert.deepEqual([another.day, another.example, another.changed], ["Another day", null, true]);
  assert.equal(await a.textContent("#day-name"), "Another day");
  assert.equal(await a.textContent("#invented"), "What this day does not state is an invented default.");
  assert.equal((await page.evaluate(() => document.querySelector("#a").reset())).scenario.setup.air.temperature, "88 °F");
  assert.deepEqual(await keys(b), other);
  quiet(log);
  await close();
});

test("what cannot be set is answered with field, value, limit and remedy, and changes nothing", async () => {
  const { page, log, close } = await around(elementTag('id="a"'), { width: 600, height: 1800 });
  const [a] = await views(page);
  const before = await keys(a);
  const refusals = [
    [{ parameters: { "cooler.uua": "30 W/K" } }, "parameters.cooler.uua", "30 W/K", /no parameter has this name/, /parameters\.md/],
    [{ parameters: { "cooler.ua": "30" } }, "parameters.cooler.ua", "30", /with its unit/, /W\/K/],
    [{ parameters: { "cooler.ua": "30 furlongs" } }, "parameters.cooler.ua", "30 furlongs", /with its unit/, /W\/K/],
    [{ parameters: { "air.temperature": "100 °F", "cooler.ua": "-3 W/K" } }, "setup.cooler.ua", /-3/, /\d/, /\w/],
    [{ parameters: { "air.temperature": { value: 3 } } }, "parameters.air.temperature", '{"value":3}', /text with its unit/, /95 °F/],
    [{ parameters: "cooler" }, "parameters", "cooler", /object/, /110 W\/K/],
    [{ scenario: { format: 1, timeline: "none" } }, /timeline/, /./, /./, /./],
    [{ scenario: [] }, "scenario", "[]", /object/, /JSON/],
    [{ units: "metric" }, "units", "metric", /us or si/, /us or si/],
    [{ colour: "red" }, "colour", "red", /set has only/, /Leave it out/],
    [{}, "set", "nothing", /parameters, scenario or units/, /State/],
    [{ scenario: { name: "x".repeat(3_100_000) } }, "message", "too large", /3 MB/, /smaller/],
  ];
  for (const [wanted, ...expected] of refusals) {
    const answer = await set(page, "a", wanted);
    const parts = [answer.field, answer.value, answer.limit, answer.remedy];
    expected.forEach((part, at) => (part instanceof RegExp ? assert.match(String(parts[at]), part, JSON.stringify(answer)) : assert.equal(parts[at], part)));
  }
  assert.deepEqual(await keys(a), before);
  assert.equal((await told(page, "a", "error")).length, refusals.length);
  assert.equal((await told(page, "a", "result")).length, 1);
  // What cannot be computed leaves nothing else of the same message behind.
  assert.equal(await a.inputValue(".control[data-path='air.temperature'] input.number"), "88");
  quiet(log);
  await close();
});

test("malformed messages are answered or ignored; an echo makes no loop; many in one frame are computed once", async () => {
  const { page, log, close } = await around(frameTag(own()), { width: 600, height: 1800 });
  const [frame] = await views(page);
  await page.waitForFunction(() => heard.some(({ data }) => data.type === "result"));
  const answered = [
    [{ stallheat: 2, id: 1, type: "set", units: "si" }, "stallheat", [1]],
    [{ stallheat: 1, type: "set", units: "si" }, "id", []],
    [{ stallheat: 1, id: { a: 1 }, type: "set", units: "si" }, "id", []],
    [{ stallheat: 1, id: "x".repeat(65), type: "set", units: "si" }, "id", []],
    [{ stallheat: 1, id: 2, type: "__proto__" }, "type", [2]],
    [{ stallheat: 1, id: 3, type: 7 }, "type", [3]],
    [{ stallheat: 1, id: 4, type: "reset", units: "si" }, "units", [4]],
    [{ stallheat: 1, id: "five", type: "set", scenario: { note: NaN } }, "message", ["five"]],
  ];
  for (const [data] of answered) await page.evaluate(([text, target]) => document.querySelector("iframe").contentWindow.postMessage(JSON.parse(text, (_, value) => (value === "NaN" ? NaN : value)), target), [JSON.stringify(data, (_, value) => (Number.isNaN(value) ? "NaN" : value)), new URL(site.url).origin]);
  await page.evaluate((target) => {
    const cyclic = { stallheat: 1, id: 6, type: "set", scenario: {} };
    cyclic.scenario.self = cyclic;
    const { contentWindow: view } = document.querySelector("iframe");
    view.postMessage(cyclic, target);
    view.postMessage({ stallheat: 1, id: 7, type: "set", scenario: { when: new Date(0) } }, target);
  }, new URL(site.url).origin);
  await page.waitForFunction((count) => heard.filter(({ data }) => data.type === "error").length >= count, answered.length + 2);
  const errors = await heard(page, "error");
  assert.deepEqual(errors.map(({ field, reply_to }) => [field, reply_to]), [...answered.map(([, field, ids]) => [field, ids]), ["message", [6]], ["message", [7]]]);
  assert.ok(errors.every(({ stallheat, id, limit, remedy }) => stallheat === 1 && id > 0 && limit && remedy));

  // What is none of the view's business, and what it said itself.
  const before = (await page.evaluate(() => heard.length));
  for (const data of [null, 7, "set", [], { type: "set" }, { webpack: 1 }]) await post(page, data);
  await page.evaluate((target) => {
    for (const { data } of [...heard]) document.querySelector("iframe").contentWindow.postMessage(data, target);
  }, new URL(site.url).origin);
  await page.waitForTimeout(300);
  assert.equal(await page.evaluate(() => heard.length), before);

  // Fifty in a row: every one is answered, with one result.
  const results = (await heard(page, "result")).length;
  await page.evaluate((target) => {
    for (let at = 1; at <= 50; at += 1) document.querySelector("iframe").contentWindow.postMessage({ stallheat: 1, id: 100 + at, type: "set", parameters: { "cooler.ua": `${50 + at} W/K` } }, target);
  }, new URL(site.url).origin);
  await page.waitForFunction(() => heard.some(({ data }) => data.type === "result" && data.reply_to.includes(150)));
  const told = (await heard(page, "result")).slice(results);
  assert.ok(told.length <= 3, `${told.length} results`);
  assert.deepEqual([...new Set(told.flatMap(({ reply_to }) => reply_to))].length, 50);
  assert.equal(await frame.inputValue(".control[data-path='cooler.ua'] input.number"), "100");
  // What is set again as it is, is answered and is no result: who sets on every result ends there.
  const count = (await heard(page, "result")).length;
  await post(page, { stallheat: 1, id: "again", type: "set", parameters: { "cooler.ua": "100 W/K" } });
  await page.waitForFunction(() => heard.some(({ data }) => data.type === "state" && data.reply_to.includes("again")));
  await page.waitForTimeout(100);
  assert.equal((await heard(page, "result")).length, count);
  quiet(log);
  await close();
});

test("without a named origin it tells nothing of the day and obeys nobody", async () => {
  const { page, log, close } = await around(frameTag(), { width: 600, height: 1800 });
  const [frame] = await views(page);
  const before = await keys(frame);
  await post(page, { stallheat: 1, id: 1, type: "set", parameters: { "cooler.ua": "30 W/K" } });
  await page.waitForTimeout(300);
  assert.deepEqual([...new Set(await page.evaluate(() => heard.map(({ data }) => data.type)))].sort(), ["height", "ready"]);
  assert.ok((await page.evaluate(() => heard.map(({ data }) => Object.keys(data).sort().join()))).every((held) => ["height_px,id,stallheat,type", "id,stallheat,type,version"].includes(held)));
  assert.deepEqual(await keys(frame), before);
  quiet(log);
  await close();
});

test("a wrong origin or a wrong window is not heard, either way", async () => {
  // Named is another origin than the page's.
  const stranger = await around(frameTag("origin=https://shop.example"), { width: 600, height: 1800 });
  const [deaf] = await views(stranger.page);
  const before = await keys(deaf);
  await post(stranger.page, { stallheat: 1, id: 1, type: "set", parameters: { "cooler.ua": "30 W/K" } });
  await stranger.page.waitForTimeout(300);
  assert.deepEqual(await keys(deaf), before);
  assert.deepEqual(await stranger.page.evaluate(() => heard), []);
  await stranger.close();

  // A frame beside the view has the right origin and is not the page around.
  pages["/beside"] = `<!doctype html><title>Beside</title><link rel="icon" href="/favicon.ico"><script src="/host.js"></script>`;
  const { page, log, close } = await around(`${frameTag(own())}<iframe title="Beside" id="beside" src="/beside"></iframe>${elementTag('id="two"')}`, { width: 600, height: 3600 });
  await page.waitForFunction(() => document.querySelector("stallheat-view")?.shadowRoot?.querySelector("iframe"));
  const inside = page.frames().find((one) => one.url().endsWith("/beside"));
  const [view, two] = page.frames().filter((one) => one.url().includes("embed.html"));
  for (const one of [view, two]) await computed(one);
  await page.waitForFunction(() => events.some(({ name }) => name === "result"));
  const shown = await keys(view);
  const tall = await two.evaluate(() => innerHeight);
  const heardBefore = await page.evaluate(() => events.length);
  await inside.evaluate((target) => {
    parent.frames[0].postMessage({ stallheat: 1, id: 1, type: "set", parameters: { "cooler.ua": "30 W/K" } }, target);
    // And it says it were the view.
    parent.postMessage({ stallheat: 1, id: 1, type: "height", height_px: 5 }, "*");
    parent.postMessage({ stallheat: 1, id: 2, type: "result", converter_peak_c: 1 }, "*");
  }, new URL(site.url).origin);
  // The page itself pretends, too: not the frame's window.
  await page.evaluate(() => postMessage({ stallheat: 1, id: 3, type: "height", height_px: 5 }, "*"));
  await page.waitForTimeout(300);
  assert.deepEqual(await keys(view), shown);
  assert.equal(await two.evaluate(() => innerHeight), tall);
  assert.equal(await page.evaluate(() => events.length), heardBefore);
  quiet(log);
  await close();
});
