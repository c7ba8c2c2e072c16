// The view within a page of another origin, that has a strict policy of its own: as a frame and as an element.
import assert from "node:assert/strict";
import { readdirSync, readFileSync } from "node:fs";
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
    let bytes = pages[pathname] ?? null;
    try {
      if (path.startsWith(resolve(folder) + sep)) bytes ??= readFileSync(path);
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
      await screenshot(page, `embed-${width}-${colorScheme}`, { fullPage: false, clip: await page.locator("body").boundingBox() });
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
    [{ scenario: { format: 1, name: "x", timeline: "none" } }, /timeline/, /./, /./, /./],
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
  // What is undefined is not stated, as a script writes it that has only some of the three.
  assert.equal(await element(page, "a", "(one) => one.set({ parameters: undefined, scenario: undefined, units: 'us' }).then(({ units }) => units, String)"), "us");
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
    view.postMessage({ stallheat: 1n, id: 8, type: "set" }, target);
    view.postMessage({ stallheat: cyclic, id: 9, type: "set" }, target);
    view.postMessage({ stallheat: 1, id: 10, type: { toString: 1, valueOf: 1 } }, target);
  }, new URL(site.url).origin);
  await page.waitForFunction((count) => heard.filter(({ data }) => data.type === "error").length >= count, answered.length + 5);
  const errors = await heard(page, "error");
  assert.deepEqual(errors.map(({ field, reply_to }) => [field, reply_to]), [...answered.map(([, field, ids]) => [field, ids]), ["message", [6]], ["message", [7]], ["stallheat", [8]], ["stallheat", [9]], ["type", [10]]]);
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
  // With an error in the address, that is not told either.
  const { page, log, close } = await around(frameTag("example=sunday"), { width: 600, height: 1800 });
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

test("the element does not hear its own frame once another site stands in it", async () => {
  pages[`${PREFIX}other.html`] = `<!doctype html><html lang="en"><title>Other</title><link rel="icon" href="favicon.svg"><script>
    for (const more of [{ type: "height", height_px: 5 }, { type: "result", converter_peak_c: 1 }]) parent.postMessage({ stallheat: 1, id: 1, ...more }, "*");
  </script></html>`;
  const { page, log, close } = await around(elementTag('id="a"'), { width: 600, height: 1800 });
  const [a] = await views(page);
  await page.waitForFunction(() => events.some(({ name }) => name === "result"));
  const tall = await a.evaluate(() => innerHeight);
  const count = await page.evaluate(() => events.length);
  await a.goto(`${staticAddress()}other.html`);
  await page.waitForTimeout(300);
  // It spoke, and the page around heard it.
  assert.ok((await page.evaluate((origin) => heard.filter((one) => one.origin === origin).length, new URL(staticAddress()).origin)) >= 2);
  assert.equal(await a.evaluate(() => innerHeight), tall);
  assert.equal(await page.evaluate(() => events.length), count);
  quiet(log);
  await close();
});

test("below a path of any static host, both ways, nothing is asked from elsewhere, and nothing is kept", async () => {
  const base = staticAddress();
  const { page, context, log, close } = await around(frameTag("", "", "", base) + elementTag('id="two"', base), { width: 600, height: 3200, offline: true });
  const [one, two] = await views(page, 2);
  assert.deepEqual(await keys(one), await keys(two));
  assert.equal((await set(page, "two", { parameters: { "cooler.ua": "30 W/K" } })).type, "state");
  await two.locator(".control[data-path='air.temperature'] input[type=range]").press("ArrowLeft");
  await page.waitForTimeout(300);
  const strange = log.requests.filter((address) => !address.startsWith(base) && !address.startsWith(hostOrigin()));
  assert.deepEqual(strange, []);
  assert.deepEqual(await context.cookies(), []);
  quiet(log);
  await close();
  // Browsers keep nothing for strangers in a frame; alone, the view could keep something.
  const alone = await site.open({ path: null, offline: true });
  await alone.page.goto(`${base}embed.html`);
  await computed(alone.page);
  await alone.page.locator(".control[data-path='air.temperature'] input[type=range]").press("ArrowLeft");
  await alone.page.waitForTimeout(300);
  const kept = await alone.page.evaluate(async () => [localStorage.length, sessionStorage.length, (await indexedDB.databases()).length, (await caches.keys()).length, (await navigator.serviceWorker.getRegistrations()).length, document.cookie]);
  assert.deepEqual(kept, [0, 0, 0, 0, 0, ""]);
  quiet(alone.log);
  await alone.close();
});

test("attributes set in a row all count; a height counts until the view has told its own; locked=0 is open", async () => {
  const { page, close } = await around(elementTag('id="two" locked="0"'), { width: 600, height: 3200 });
  const [view] = await views(page, 1);
  assert.ok((await view.locator(".control").count()) > 0, "open");
  const found = await page.evaluate(async () => {
    const element = document.querySelector("stallheat-view");
    const frame = () => element.shadowRoot.querySelector("iframe");
    const told = frame().style.height;
    element.setAttribute("height", "300");
    const after = frame().style.height;
    const before = frame().getAttribute("sandbox");
    element.setAttribute("units", "si");
    element.setAttribute("isolated", "");
    await Promise.resolve();
    await Promise.resolve();
    return { told, after, before, now: frame().getAttribute("sandbox") };
  });
  assert.equal(found.after, found.told);
  assert.match(found.before, /allow-same-origin/);
  assert.doesNotMatch(found.now, /allow-same-origin/);
  await close();
});

test("a sandbox without an origin of its own needs a host that lets every origin read its files", async () => {
  const inside = () => elementTag('id="two" isolated', staticAddress()) + frameTag(own(), "", "", staticAddress()).replace(" allow-same-origin", "");
  statically = {};
  const without = await around(inside(), { width: 600, height: 3200 });
  await without.page.waitForFunction(() => document.querySelector("stallheat-view")?.shadowRoot?.querySelector("iframe"));
  await without.page.waitForTimeout(800);
  for (const frame of without.page.frames().filter((one) => one.url().includes("embed.html"))) {
    // It is readable HTML that says what is missing.
    assert.match(await frame.textContent("#finding"), /needs JavaScript, modules from this site/);
  }
  assert.equal(without.page.frames().filter((one) => one.url().includes("embed.html")).length, 2);
  await without.close();

  statically = { "access-control-allow-origin": "*" };
  const { page, log, close } = await around(inside(), { width: 600, height: 3200 });
  const all = await views(page, 2);
  const before = await keys(all[0]);
  assert.deepEqual(await keys(all[1]), before);
  const origins = await page.evaluate(() => [...new Set(heard.map(({ origin }) => origin))]);
  assert.deepEqual(origins, ["null"]);
  assert.equal((await set(page, "two", { parameters: { "cooler.ua": "30 W/K" } })).changed, true);
  await page.waitForFunction(() => document.querySelector("iframe").clientHeight > 600);
  quiet(log);
  statically = {};
  await close();
});

test("on a page of the view's own origin the console is quiet, too", async () => {
  pages[`${PREFIX}same.html`] = `<!doctype html><html lang="en"><title>A shop</title><link rel="icon" href="favicon.svg"><script src="embed.js" async></script><stallheat-view id="a"></stallheat-view></html>`;
  const { page, log, close } = await site.open({ path: null, width: 600, height: 1800 });
  await page.goto(`${staticAddress()}same.html`);
  const [a] = await views(page);
  const before = await keys(a);
  assert.equal((await set(page, "a", { parameters: { "cooler.ua": "30 W/K" } })).changed, true);
  assert.notDeepEqual(await keys(a), before);
  quiet(log);
  await close();
});

test("open in full opens the same day with the same numbers", async () => {
  const { page, context, log, close } = await around(frameTag("units=si&example=test_and_tune_evening&controls=cooler.ua"), { width: 600, height: 1800 });
  const [frame] = await views(page);
  const box = frame.locator(".control[data-path='cooler.ua'] input.number");
  await box.fill("45");
  await box.press("Enter");
  await frame.waitForFunction(() => !document.querySelector("#reset-all").disabled);
  await page.waitForTimeout(200);
  const shown = await keys(frame);
  const [full] = await Promise.all([context.waitForEvent("page"), frame.locator("#full").click()]);
  await ready(full);
  assert.equal(await full.evaluate(() => opener), null);
  const ids = ["key-peak", "key-launch", "key-spread"];
  const plain = (all) => all.map((one) => one.replace(/\s/g, " "));
  assert.deepEqual(plain(await Promise.all(ids.map((id) => text(full, `#${id}`)))), plain(shown));
  assert.equal(await full.inputValue(".control[data-path='cooler.ua'] input.number"), "45");
  assert.equal(await full.isChecked("#units-si"), true);
  // And the full page's link is a day for the view.
  const address = new URL(full.url());
  const again = await around(frameTag("", address.hash) + elementTag(`id="two" day="${address.href}"`), { width: 600, height: 3200 });
  for (const view of await views(again.page, 2)) assert.deepEqual(await keys(view), shown);
  quiet(again.log);
  await again.close();
  quiet(log);
  await close();
});

test("a link that cannot be opened shows no numbers, an example that is not known the first", async () => {
  const { page, log, close } = await around(frameTag("", "#s=1.00000000.5.abcde") + frameTag("", "#s=1.0000") + frameTag("example=sunday"), { width: 600, height: 2400 });
  await page.waitForFunction(() => heard.filter(({ data }) => data.type === "ready").length === 3);
  const [damaged, cut, unknown] = page.frames().slice(1);
  for (const [frame, says] of [[damaged, /damaged/], [cut, /cut off/]]) {
    await frame.locator("#problem:not([hidden])").waitFor();
    assert.match(await frame.textContent("#problem"), says);
    assert.equal(await frame.isVisible("#day"), false);
    assert.equal(await frame.textContent("#key-peak"), "–");
  }
  await computed(unknown);
  assert.match(await unknown.textContent("#address-problems"), /example: sunday — must be one of saturday_bracket_day.*Write example=saturday_bracket_day/);
  // A good day afterwards mends it.
  const good = await unknown.getAttribute("#full", "href");
  await damaged.evaluate((hash) => {
    location.hash = hash;
  }, new URL(good).hash);
  await computed(damaged);
  assert.equal(await damaged.isVisible("#problem"), false);
  quiet(log);
  await close();
});

test("what the address asks wrongly is named with value, limit and remedy, and the rest holds", async () => {
  const query = "units=metric&theme=dusk&accent=red&background=%23808080&controls=cooler.uaa,cooler.ua,cooler.ua,ua&locked=maybe&show=chart,picture,controls&origin=https://shop.example/&colour=blue&units=si";
  const { page, log, close } = await site.open({ path: `embed.html?${query}`, width: 600, height: 1200 });
  await computed(page);
  const says = await page.$$eval("#address-problems li", (all) => all.map((one) => one.textContent));
  const expected = [
    /^units: metric and si — more than one/, /^colour: blue — not one of units, theme/, /^units: metric — must be one of us, si\. Write units=us/, /^theme: dusk — must be one of auto, light, dark/,
    /^accent: red — must be a colour of three or six/, /^background: #808080 — text on it must have a contrast of 4\.5, lines of 3\. Choose a lighter or a darker one/, /^locked: maybe — must be one of 1, 0\. Write locked=1/,
    /^show: picture — must be among finding/, /^origin: https:\/\/shop\.example\/ — must be scheme, host and port only/,
    /^controls: cooler\.uaa — no parameter has this name\. Did you mean cooler\./, /^controls: cooler\.ua — named twice/, /^controls: ua — .*Did you mean cooler\.ua/,
  ];
  for (const one of expected) assert.ok(says.some((line) => one.test(line)), `${one} in\n${says.join("\n")}`);
  assert.equal(says.length, expected.length, says.join("\n"));
  assert.equal(await page.isVisible("#chart"), true);
  assert.equal(await page.isVisible("#finding"), false);
  assert.deepEqual(await page.$$eval(".control", (all) => all.map((one) => one.dataset.path)), ["cooler.ua"]);
  await screenshot(page, "embed-bad-address");
  quiet(log);
  await close();
});

test("a locked view has nothing to edit; the page around may set it all the same", async () => {
  const { page, log, close } = await around(elementTag('id="a" locked show="finding,keys,chart,controls,launches" controls="cooler.ua"'), { width: 600, height: 2000 });
  const [a] = await views(page);
  assert.deepEqual(await a.$$eval("input, button, select, textarea, [contenteditable]", (all) => all.filter((one) => one.checkVisibility()).map((one) => one.outerHTML)), []);
  assert.equal(await a.isVisible("#full"), true);
  assert.equal(await a.locator("#launch-rows tr").count(), 6);
  const before = await keys(a);
  await set(page, "a", { parameters: { "cooler.ua": "30 W/K" } });
  assert.notDeepEqual(await keys(a), before);
  quiet(log);
  await close();
});

test("keys alone: a slider, a box, units, a bad number said at its box and taken back", async () => {
  const { page, log, close } = await around(elementTag('id="a" controls="cooler.ua,air.temperature"'), { width: 600, height: 2000 });
  const [a] = await views(page);
  const before = await keys(a);
  await page.locator("body").press("Tab");
  const focused = () => a.evaluate(() => document.activeElement.id || document.activeElement.className || document.activeElement.type);
  const passed = [];
  for (let at = 0; at < 12; at += 1) {
    passed.push(await focused());
    await page.keyboard.press("Tab");
  }
  assert.ok(passed.includes("units-us") && passed.includes("number") && passed.some((one) => one.startsWith("slider-")) && passed.includes("full"), passed.join());
  await a.locator(".control[data-path='cooler.ua'] input[type=range]").focus();
  for (let at = 0; at < 12; at += 1) await page.keyboard.press("ArrowLeft");
  await a.waitForFunction((was) => document.querySelector("#key-launch").textContent !== was, before[1]);
  assert.equal(await a.locator("#reset-all").isEnabled(), true);
  await a.locator("#reset-all").focus();
  await page.keyboard.press("Enter");
  await a.waitForFunction((was) => document.querySelector("#key-launch").textContent === was, before[1]);
  const box = a.locator(".control[data-path='air.temperature'] input.number");
  const place = (await box.boundingBox()).y;
  await box.fill("900");
  await box.press("Enter");
  await a.locator("#problem:not([hidden])").waitFor();
  assert.match(await a.textContent("#problem"), /Not computed.*Air and place, air temperature: .*900.*—.*Take the change back/s);
  assert.equal(await box.getAttribute("aria-invalid"), "true");
  // What is said does not push the box away from under the finger, and stands right below it.
  assert.equal((await box.boundingBox()).y, place);
  assert.equal(await a.$eval("#problem", (one) => one.previousElementSibling.dataset.path), "air.temperature");
  assert.deepEqual(await keys(a), before);
  assert.equal((await told(page, "a", "error")).at(-1).field, "setup.air.temperature");
  await a.locator("#problem button").focus();
  await page.keyboard.press("Enter");
  await a.waitForFunction(() => document.querySelector("#problem").hidden);
  // Reset all takes a bad number back, too.
  await box.fill("900");
  await box.press("Enter");
  await a.locator("#problem:not([hidden])").waitFor();
  // The frame has grown by what is said.
  await a.waitForFunction(() => document.documentElement.scrollHeight <= innerHeight);
  await a.locator("#reset-all").click();
  await a.waitForFunction(() => document.querySelector("#problem").hidden && !document.body.classList.contains("stale"));
  assert.equal(await box.inputValue(), "88");
  // So does a press right from the box, which is what stores the number: nothing moves until it is let go.
  await box.fill("900");
  const button = await a.locator("#reset-all").boundingBox();
  await page.mouse.move(button.x + button.width / 2, button.y + button.height / 2);
  await page.mouse.down();
  await a.waitForFunction(() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(() => done(true)))));
  assert.deepEqual(await a.locator("#reset-all").boundingBox(), button);
  await page.mouse.up();
  await a.waitForFunction(() => document.querySelector(".control[data-path='air.temperature'] input.number").value === "88");
  assert.equal(await a.isVisible("#problem"), false);
  quiet(log);
  await close();
});

test("attributes changed later are followed; removed, it is gone", async () => {
  const { page, log, close } = await around(elementTag('id="a"'), { width: 600, height: 2400 });
  const [a] = await views(page);
  const before = await keys(a);
  const steps = await page.evaluate(() => history.length);
  await element(page, "a", "(one) => { one.setAttribute('units', 'si'); one.setAttribute('theme', 'dark'); one.setAttribute('label', 'Our day'); }");
  await page.waitForFunction(() => events.filter(({ name }) => name === "ready").length === 2);
  const [b] = await views(page);
  assert.match((await keys(b))[0], /°C$/);
  assert.equal(await b.evaluate(() => document.documentElement.dataset.scheme), "dark");
  assert.equal(await page.evaluate(() => document.querySelector("#a").shadowRoot.querySelector("iframe").title), "Our day");
  // Another day alone is opened without loading anew.
  const { hash } = await set(page, "a", { parameters: { "cooler.ua": "30 W/K" }, units: "us" });
  await page.evaluate(() => document.querySelector("#a").reset());
  assert.deepEqual((await keys(b))[1], before[1]);
  await element(page, "a", "(one, hash) => one.setAttribute('day', hash)", hash);
  await b.waitForFunction((was) => document.querySelector("#key-launch").textContent !== was, before[1]);
  assert.equal(await page.evaluate(() => events.filter(({ name }) => name === "ready").length), 2);
  // None of it is a step on the reader's way back.
  assert.equal(await page.evaluate(() => history.length), steps);
  const said = await page.evaluate(async () => {
    const one = document.querySelector("#a");
    const asked = one.set({ units: "si" }).catch(({ message }) => message);
    one.remove();
    const count = events.length;
    await new Promise((done) => setTimeout(done, 200));
    return [await asked, one.shadowRoot.querySelector("iframe"), events.length - count, Object.keys(window).filter((key) => /stallheat|embed/i.test(key))];
  });
  assert.deepEqual(said, ["The view was removed from the page.", null, 0, []]);
  quiet(log);
  await close();
});

test("as a module, and twice on one page, the script works as well", async () => {
  const module = `<script type="module" src="${site.url}embed.js"></script>`;
  const { page, log, close } = await around(`${module}<stallheat-view id="a"></stallheat-view>`, { width: 600, height: 1800, context: { bypassCSP: false } });
  // A module of another origin needs that origin's leave; from the page's own host it needs none.
  await page.waitForTimeout(500);
  const refused = log.console.length > 0;
  assert.equal(await page.evaluate(() => Boolean(customElements.get("stallheat-view"))), !refused);
  await close();
  statically = { "access-control-allow-origin": "*" };
  const base = staticAddress();
  const again = await around(`<script type="module" src="${base}embed.js"></script><stallheat-view id="a"></stallheat-view>${elementTag('id="b"', base)}`, { width: 600, height: 3600 });
  const [a, b] = await views(again.page, 2);
  assert.deepEqual(await keys(a), await keys(b));
  quiet(again.log);
  statically = {};
  await again.close();
});

test("what is set in one frame holds or fails by itself", async () => {
  const { page, log, close } = await around(elementTag('id="a"'), { width: 600, height: 1800 });
  const [a] = await views(page);
  const answers = (all) => page.evaluate((wanted) => Promise.all(wanted.map((one) => document.querySelector("#a").set(one).then(({ scenario }) => [scenario.setup.cooler.ua, scenario.setup.air.temperature], ({ field }) => field))), all);
  const bad = { parameters: { "cooler.ua": "-3 W/K" } };
  assert.deepEqual(await answers([bad, { parameters: { "air.temperature": "60 °F" } }, { units: "si" }]), ["setup.cooler.ua", ["110 W/K", "60 °F"], ["110 W/K", "60 °F"]]);
  assert.match((await keys(a))[0], /°C/);
  assert.deepEqual(await answers([{ parameters: { "cooler.ua": "50 W/K" } }, bad, { scenario: {} }, { units: "us" }, bad]), [["50 W/K", "60 °F"], "setup.cooler.ua", "format", ["50 W/K", "60 °F"], "setup.cooler.ua"]);
  assert.match((await keys(a))[0], /°F/);
  assert.equal(await a.inputValue(".control[data-path='cooler.ua'] input.number"), "50");
  // A scenario in which the parameters have no place is no fault that stops the rest.
  assert.deepEqual(await answers([{ scenario: { setup: { cooler: "x" } }, ...bad }, { parameters: { "cooler.ua": "51 W/K" } }]), ["parameters.cooler.ua", ["51 W/K", "60 °F"]]);
  quiet(log);
  await close();
});

test("what the reader does in the same frame is shown, and a number that cannot be computed is left standing", async () => {
  const { page, log, close } = await around(elementTag('id="a"'), { width: 600, height: 1800 });
  const [a] = await views(page);
  const before = await keys(a);
  /** Moves a slider and hears a message of the page around within one frame. */
  const together = (share, message) => a.evaluate(([to, data, origin]) => {
    const range = document.querySelector(".control[data-path='cooler.ua'] input[type=range]");
    range.value = Number(range.min) + to * (range.max - range.min);
    range.dispatchEvent(new Event("input"));
    dispatchEvent(new MessageEvent("message", { data, origin, source: parent }));
    return new Promise((done) => setTimeout(done, 300));
  }, [share, { stallheat: 1, id: "same", ...message }, hostOrigin()]);
  await together(0, { type: "set", units: "us" });
  const after = await keys(a);
  assert.notDeepEqual(after, before);
  const { scenario } = (await told(page, "a", "state")).at(-1);
  assert.equal(scenario.setup.cooler.ua, `${await a.inputValue(".control[data-path='cooler.ua'] input.number")} W/K`);
  const box = a.locator(".control[data-path='air.temperature'] input.number");
  // A wrong number of the reader's is no fault of what is set with it.
  await box.evaluate((one, [data, origin]) => {
    one.focus();
    one.value = "900";
    one.dispatchEvent(new Event("input"));
    one.dispatchEvent(new Event("change"));
    dispatchEvent(new MessageEvent("message", { data, origin, source: parent }));
  }, [{ stallheat: 1, id: "beside", type: "set", units: "us" }, hostOrigin()]);
  await a.locator("#problem:not([hidden])").waitFor();
  await page.waitForTimeout(200);
  assert.deepEqual((await told(page, "a", "error")).map(({ reply_to }) => reply_to), [[]]);
  assert.equal((await set(page, "a", { units: "si" })).units, "si");
  assert.equal(await a.isVisible("#problem"), true);
  assert.match((await keys(a))[0], /°C/);
  assert.equal((await set(page, "a", { parameters: { "air.temperature": "70 °F" } })).setup.air.temperature, "70 °F");
  assert.equal(await a.isVisible("#problem"), false);
  quiet(log);
  await close();
});

test("a view out of sight answers, and one further down loads when it is asked", async () => {
  const { page, log, close } = await around(`${elementTag('id="a"')}<iframe title="Space" height="30000"></iframe>${elementTag('id="b"')}${elementTag('id="c" hidden')}`, { width: 360, height: 700 });
  const loaded = () => page.frames().filter((one) => one.url().includes("embed.html")).length;
  await page.waitForFunction(() => events.some(({ id, name }) => id === "a" && name === "result"));
  assert.equal(loaded(), 1);
  const within = (id, wanted) => page.evaluate(([name, what]) => Promise.race([document.getElementById(name).set(what).then(({ units }) => units, ({ message }) => message), new Promise((done) => setTimeout(() => done("10 s have passed"), 10_000))]), [id, wanted]);
  assert.equal(await within("b", { units: "si" }), "si");
  assert.equal(await within("b", { units: "us" }), "us");
  assert.equal(await within("c", { units: "si" }), "si");
  assert.equal(loaded(), 3);
  await element(page, "a", "(one) => { one.hidden = true; }");
  assert.equal(await within("a", { units: "si" }), "si");
  quiet(log);
  await close();
});

/** A script for the views: what packs and unpacks links takes its time, the next of each as long as `waits` says. */
function slowLinks() {
  window.waits = { CompressionStream: [], DecompressionStream: [], ...(location.hash ? { DecompressionStream: [300] } : {}) };
  for (const name of Object.keys(window.waits)) {
    const Usual = window[name];
    window[name] = class {
      constructor(format) {
        const stream = new Usual(format);
        const wait_ms = window.waits[name].shift() ?? 0;
        const before = new TransformStream({ transform: (chunk, next) => new Promise((done) => setTimeout(done, wait_ms)).then(() => next.enqueue(chunk)) });
        before.readable.pipeTo(stream.writable);
        return { writable: before.writable, readable: stream.readable };
      }
    };
  }
}

test("days and settings in quick succession end on the newest, and each state has its own link", async () => {
  const first = await around(elementTag('id="a"'), { width: 600, height: 1800 });
  await views(first.page);
  const days = await first.page.evaluate(async () => {
    const made = [];
    for (const ua of [33, 44, 55]) made.push((await document.querySelector("#a").set({ parameters: { "cooler.ua": `${ua} W/K` } })).hash);
    return made;
  });
  await first.close();
  pages["/quick"] = page(`<script src="/quick.js"></script>${elementTag(`id="a" day="${days[0]}"`)}`);
  pages["/quick.js"] = `addEventListener("stallheat-ready", ({ target }) => { window.early = target.set({ parameters: { "air.temperature": "60 °F" } }).then(({ scenario }) => [scenario.setup.cooler.ua, scenario.setup.air.temperature], String); }, { capture: true, once: true });`;
  const { page: shop, context, log, close } = await site.open({ path: null, width: 600, height: 1800 });
  await context.addInitScript(slowLinks);
  await shop.goto(`${hostOrigin()}/quick`);
  const [a] = await views(shop);
  // Set as soon as it was ready, while its day was still being read.
  assert.deepEqual(await shop.evaluate(() => window.early), ["33 W/K", "60 °F"]);
  const ua = () => a.inputValue(".control[data-path='cooler.ua'] input.number");
  // The day before takes longer to read than the last.
  await a.evaluate(() => waits.DecompressionStream.push(400, 0));
  await element(shop, "a", "(one, days) => { one.setAttribute('day', days[1]); setTimeout(() => one.setAttribute('day', days[2]), 60); }", days);
  await shop.waitForTimeout(800);
  assert.equal(await ua(), "55");
  // An attribute and then a set: the set is of what the attribute says.
  const both = await element(shop, "a", "(one, days) => { one.setAttribute('units', 'si'); return one.set({ parameters: { 'air.temperature': '70 °F' } }).then(({ units, scenario }) => [units, scenario.setup.air.temperature], String); }", days);
  assert.deepEqual(both, ["si", "70 °F"]);
  // What is set again while the link of a change is still being made is answered with that link.
  const [b] = await views(shop);
  await b.evaluate(() => waits.CompressionStream.push(300));
  const links = await element(shop, "a", `async (one) => {
    const all = [one.set({ parameters: { "cooler.ua": "77 W/K" } })];
    await new Promise((done) => setTimeout(done, 100));
    all.push(one.set({ parameters: { "cooler.ua": "77 W/K" } }));
    return (await Promise.all(all)).map(({ hash }) => hash);
  }`);
  assert.equal(links[0], links[1]);
  const again = await around(elementTag(`id="a" day="${links[1]}"`), { width: 600, height: 1800 });
  const [c] = await views(again.page);
  assert.equal(await c.inputValue(".control[data-path='cooler.ua'] input.number"), "77");
  await again.close();
  quiet(log);
  await close();
});

test("a day that cannot be opened stays said, whatever is set, until another comes", async () => {
  const { page, log, close } = await around(elementTag('id="a"'), { width: 600, height: 1800 });
  const [a] = await views(page);
  const usual = await a.getAttribute("#full", "href");
  await element(page, "a", "(one) => one.setAttribute('day', '#s=1.0000')");
  await a.locator("#problem:not([hidden])").waitFor();
  const said = (await told(page, "a", "error")).at(-1);
  assert.deepEqual([said.field, said.message], ["day", "day: #s=1.0000 — It is cut off: its beginning only has arrived. Copy the link anew from the full page."]);
  for (const wanted of [{ units: "si" }, { parameters: { "cooler.ua": "30 W/K" } }]) {
    const { field, remedy } = await set(page, "a", wanted);
    assert.deepEqual([field, remedy], ["set", "Set a scenario first."]);
  }
  assert.equal(await a.isVisible("#problem"), true);
  assert.equal(await a.isVisible("#day"), false);
  // Neither name nor link is that of the day before.
  assert.equal(await a.textContent("#day-name"), "Heat of a race day");
  assert.equal(await a.getAttribute("#full", "href"), site.url);
  await element(page, "a", "(one, day) => one.setAttribute('day', day)", usual);
  await a.waitForFunction(() => document.querySelector("#problem").hidden);
  assert.equal((await set(page, "a", { units: "si" })).units, "si");
  quiet(log);
  await close();
});

test("after a fault of the core what was set meanwhile is done with a fresh one, and the fault is not repeated", async () => {
  const version = readdirSync(folder).find((name) => name.startsWith("v-"));
  const path = `${PREFIX}${version}/core/stallheat.js`;
  // A core that stops at one value, and from then on at all.
  pages[path] = `${readFileSync(join(folder, version, "core/stallheat.js"), "utf8")}
    const simulate = Day.simulate;
    let stopped = false;
    Day.simulate = (text) => {
      stopped ||= text.includes("66 W/K");
      if (!stopped) return simulate.call(Day, text);
      globalThis.stops = (globalThis.stops ?? 0) + 1;
      throw new WebAssembly.RuntimeError("unreachable");
    };`;
  const { page, log, close } = await around(elementTag('id="a"', staticAddress()), { width: 600, height: 1800 });
  await page.route(/again=/, async (route) => {
    await new Promise((done) => setTimeout(done, 500));
    await route.continue();
  });
  const [a] = await views(page);
  const all = await element(page, "a", `async (one) => {
    const said = (wanted) => one.set(wanted).then(({ units, scenario }) => [units, scenario.setup.cooler.ua], ({ field, remedy }) => [field, remedy]);
    const first = said({ parameters: { "cooler.ua": "66 W/K" } });
    await first;
    return Promise.all([first, said({ units: "si" }), said({ parameters: { "cooler.ua": "70 W/K" } })]);
  }`);
  assert.deepEqual(all, [["view", "Send other values; the last good day is shown."], ["si", "70 W/K"], ["si", "70 W/K"]]);
  assert.equal(await a.evaluate(() => stops), 1);
  // The reader's own, with the units changed while the core is loaded; then a set that is refused.
  const box = a.locator(".control[data-path='cooler.ua'] input.number");
  await box.fill("66");
  await box.press("Enter");
  await a.locator("label[for=units-us]").click();
  await a.locator("#problem", { hasText: "The computation stopped." }).waitFor();
  await a.waitForFunction(() => /°F/.test(document.querySelector("#key-peak").textContent));
  assert.equal((await set(page, "a", { parameters: { "cooler.ua": "-3 W/K" } })).field, "setup.cooler.ua");
  await page.waitForTimeout(300);
  assert.equal(await a.evaluate(() => stops), 2);
  delete pages[path];
  quiet(log);
  await close();
});

test("further down it is as tall as it will be before it is seen; in a flexible box it is as wide as the box", async () => {
  const { page, log, close } = await around(`<iframe title="Space" height="1000"></iframe><div class="row">${elementTag('id="a"')}</div>`, { width: 360, height: 700 });
  await page.waitForFunction(() => events.some(({ name }) => name === "result"));
  assert.ok(await page.evaluate(() => document.querySelector("#a").getBoundingClientRect().top > innerHeight));
  const a = page.frames().find((one) => one.url().includes("embed.html"));
  await page.waitForFunction(() => Number.parseInt(document.querySelector("#a").shadowRoot.querySelector("iframe").style.height, 10) !== 900);
  const tall = await page.evaluate(() => document.querySelector("#a").clientHeight);
  assert.equal(tall, await a.evaluate(() => Math.ceil(document.querySelector("#view").getBoundingClientRect().height)));
  await page.evaluate(() => scrollTo(0, 900));
  await page.waitForTimeout(300);
  assert.equal(await page.evaluate(() => document.querySelector("#a").clientHeight), tall);
  for (const [name, value] of [["display", "flex"], ["align-items", "center"], ["flex-direction", "column"]]) {
    await page.evaluate(([property, to]) => document.querySelector(".row").style.setProperty(property, to), [name, value]);
    assert.equal(await page.evaluate(() => document.querySelector("#a").shadowRoot.querySelector("iframe").clientWidth), 360, name);
  }
  await page.evaluate(() => document.querySelector("#a").style.setProperty("margin", "0 20px"));
  assert.equal(await page.evaluate(() => document.querySelector("#a").shadowRoot.querySelector("iframe").clientWidth), 320);
  quiet(log);
  await close();
});

test("a page without an origin of its own sees the view and is told at once that it cannot set it", async () => {
  pages["/inner"] = page(elementTag('id="a"', staticAddress()));
  statically = { "access-control-allow-origin": "*" };
  const { page: shop, log, close } = await around(`<iframe title="Inner" sandbox="allow-scripts" height="1800" src="/inner"></iframe>`, { width: 600, height: 2000 });
  const inner = await (await shop.waitForSelector("iframe")).contentFrame();
  await inner.waitForFunction(() => document.querySelector("#a")?.shadowRoot?.querySelector("iframe").style.height > "1");
  await inner.waitForFunction(() => events.some(({ name }) => name === "ready"));
  assert.equal(await inner.evaluate(() => self.origin), "null");
  const said = await inner.evaluate(() => Promise.race([document.querySelector("#a").set({ units: "si" }).then(() => "set", ({ message }) => message), new Promise((done) => setTimeout(() => done("3 s have passed"), 3000))]));
  assert.match(said, /without an origin of its own/);
  await inner.waitForFunction(() => document.querySelector("#a").shadowRoot.querySelector("iframe").style.height !== "900px");
  quiet(log);
  statically = {};
  await close();
});

test("a slider does not move to and fro under the finger, whatever the words above it say", async () => {
  const { page, log, close } = await site.open({ path: "embed.html", width: 336, height: 1800 });
  await computed(page);
  const range = page.locator(".control[data-path='air.temperature'] input[type=range]");
  const places = [];
  for (const share of [0.5, 0, 1, 0.3, 0.8, 0, 1, 0.5]) {
    await range.evaluate((one, to) => {
      one.value = Number(one.min) + to * (one.max - one.min);
      one.dispatchEvent(new Event("input"));
    }, share);
    await page.waitForTimeout(120);
    places.push(Math.round((await range.boundingBox()).y));
  }
  assert.deepEqual(places, [...places].sort((a, b) => a - b));
  assert.equal(new Set(places.slice(3)).size, 1, places.join());
  // In a wider place the words need less.
  const tall = () => page.$eval("[data-show=finding]", (one) => one.clientHeight);
  const before = await tall();
  await page.setViewportSize({ width: 900, height: 1800 });
  await page.waitForTimeout(200);
  const [wide, alone] = [await tall(), await page.$eval("[data-show=finding]", (one) => [...one.children].at(-1).getBoundingClientRect().bottom - one.getBoundingClientRect().top)];
  assert.ok(wide < before && Math.abs(wide - alone) <= 1, `${before}, ${wide}, ${alone}`);
  quiet(log);
  await close();
});

test("on a small phone, within the margins of a page, nothing is cut off and no word broken", async () => {
  for (const width of [272, 296, 320, 336]) {
    const { page, log, close } = await site.open({ path: "embed.html?show=finding,keys,chart,controls,launches", width, height: 2600 });
    await computed(page);
    assert.ok(await page.evaluate(() => document.documentElement.scrollWidth - innerWidth) <= 0, `${width} px: too wide`);
    const broken = await page.$$eval(".control label, .keys dt, th, .entry .name", (all) => all.flatMap((one) => {
      const text = one.firstChild;
      return [...text.data.matchAll(/\w+/g)].filter(({ 0: word, index }) => {
        const range = document.createRange();
        range.setStart(text, index);
        range.setEnd(text, index + word.length);
        return new Set([...range.getClientRects()].map(({ top }) => top)).size > 1;
      }).map(([word]) => word);
    }));
    assert.deepEqual(broken, [], `${width} px`);
    const lines = await page.$$eval(".control label", (all) => all.map((one) => Math.round(one.getBoundingClientRect().height / Number.parseFloat(getComputedStyle(one).lineHeight))));
    assert.ok(lines.every((count) => count <= 2), `${width} px: ${lines}`);
    // The three key numbers stand in a row.
    assert.equal(new Set(await page.$$eval(".keys dd", (all) => all.map((one) => one.getBoundingClientRect().bottom))).size, 1);
    quiet(log);
    await close();
  }
});

test("height, label and src as people write them", async () => {
  const base = staticAddress();
  const src = (text) => `<script src="${site.url}embed.js" async></script><stallheat-view ${text}></stallheat-view>`;
  const rows = [["1250px", 1250], [" 700 ", 700], ["50%", 900], ["-3", 900], ["0", 900], ["Infinity", 900], ["99999", 20000]];
  const { page, close } = await around(`<iframe title="Space" height="30000"></iframe>${rows.map(([height]) => src(`height="${height}" label=""`)).join("")}`, { width: 600, height: 700 });
  await page.waitForFunction((count) => [...document.querySelectorAll("stallheat-view")].filter((one) => one.shadowRoot).length === count, rows.length);
  assert.deepEqual(await page.$$eval("stallheat-view", (all) => all.map((one) => Number.parseInt(one.shadowRoot.querySelector("iframe").style.height, 10))), rows.map(([, px]) => px));
  assert.match(await page.$eval("stallheat-view", (one) => one.shadowRoot.querySelector("iframe").title), /heat of a race transmission/);
  await close();
  const lost = await around(src('id="a" src="data:text/html,x"'), { width: 600, height: 700 });
  await lost.page.waitForFunction(() => document.querySelector("#a").shadowRoot);
  assert.match((await set(lost.page, "a", { units: "si" })).message, /address is not known. Give the element a src/);
  await lost.close();
  const folders = [base, base.slice(0, -1), `${base}embed.js`, `${base}index.html`, `${base.slice(0, -1)}?v=2`];
  const other = await around(folders.map((one) => src(`src="${one}"`)).join(""), { width: 600, height: 9000 });
  for (const view of await views(other.page, folders.length)) assert.ok(view.url().startsWith(`${base}embed.html?`), view.url());
  await other.close();
});

const LOOKS = [["theme=light", "light"], ["theme=dark", "dark"], ["theme=light&accent=%23ffff00", "light"], ["theme=dark&accent=%23000080", "dark"], ["background=%23fff3d6&accent=%23c33", "light"], ["background=%23000", "dark"]];
for (const [query, scheme] of LOOKS) {
  test(`everything can be read, reached and named: ${query}`, async () => {
    const other = scheme === "light" ? "dark" : "light";
    const { page, log, close } = await site.open({ path: `embed.html?${query}&show=finding,keys,chart,controls,launches`, width: 360, height: 1400, colorScheme: other });
    await computed(page);
    assert.equal(await page.evaluate(() => document.documentElement.dataset.scheme), scheme);
    assert.deepEqual(await page.$$eval("#address-problems li", (all) => all.map((one) => one.textContent)), []);
    await page.locator("summary").click();
    await page.locator(".ask").first().click();
    assert.deepEqual(await findViolations(page), []);
    const small = await page.$$eval("a, button, summary, input:not([type=radio]), label[for^=units]", (all) => all.filter((one) => one.checkVisibility()).map((one) => [one.outerHTML.slice(0, 80), one.getBoundingClientRect().height]).filter(([, tall]) => tall < 44));
    assert.deepEqual(small, []);
    // The accent as it is painted: of what was asked, with the contrast that WCAG 2.2 asks of text (1.4.3).
    const [accent, paper] = await page.evaluate(() => ["--accent", "--paper"].map((name) => getComputedStyle(document.documentElement).getPropertyValue(name).trim()));
    const luminance = (hex) => [1, 3, 5].map((at) => Number.parseInt(hex.slice(at, at + 2), 16) / 255).map((c) => (c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4)).reduce((sum, c, at) => sum + c * [0.2126, 0.7152, 0.0722][at], 0);
    const [low, high] = [luminance(accent), luminance(paper)].sort((a, b) => a - b);
    assert.ok((high + 0.05) / (low + 0.05) >= 4.5, `${accent} on ${paper}`);
    await screenshot(page, `embed-look-${query.replace(/\W+/g, "-")}`);
    quiet(log);
    await close();
  });
}

test("the palette is that of the page", () => {
  const variables = (name) => {
    const css = readFileSync(join(root, "www", name), "utf8").replace(/@media print[^]*/, "");
    const found = {};
    for (const [, key, value] of css.matchAll(/(--[a-z-]+\d?):\s*(#[0-9a-f]{6})/g)) (found[key] ??= new Set()).add(value);
    return found;
  };
  const [full, view] = [variables("style.css"), variables("embed.css")];
  assert.ok(Object.keys(view).length >= 11);
  for (const [key, values] of Object.entries(view)) assert.deepEqual(values, full[key], key);
});

test("put this on a page: a preview at three widths, and snippets that work on another page", async () => {
  const { page, log, close } = await site.open({ width: 1280, height: 900 });
  await ready(page);
  assert.ok(!log.requests.some((address) => /embed/.test(address)), "the first view asks for nothing of this");
  const box = page.locator(".control[data-path='cooler.ua'] input.number");
  await box.fill("61");
  await box.press("Enter");
  await page.locator("#put-on-page > summary").click();
  const inside = page.frameLocator("#put-on-page iframe");
  await inside.locator("#key-peak").filter({ hasText: /\d/ }).waitFor();
  const frame = page.frames().find((one) => one.url().includes("embed.html"));
  const plain = (words) => words.replace(/\s/g, " ");
  assert.equal(plain(await frame.textContent("#key-launch")), plain(await text(page, "#key-launch")));
  for (const width of [320, 600, 1000]) {
    await page.locator("#put-on-page label", { hasText: `${width} px` }).click();
    await frame.waitForFunction((wanted) => innerWidth === wanted && Math.abs(innerHeight - Math.ceil(document.querySelector("#view").getBoundingClientRect().height)) <= 1, width);
  }
  await screenshot(page, "embed-maker");
  assert.deepEqual(await findViolations(page), []);

  // Other choices, and what is copied of them.
  const steps = await page.evaluate(() => history.length);
  await page.locator("#put-on-page label", { hasText: "600 px" }).click();
  await page.locator("#put-on-page label", { hasText: "Table of launches" }).click();
  await page.locator("#put-on-page").getByLabel("Add a control").selectOption("car.mass");
  await page.locator("#put-on-page").getByLabel("Leave out K-factor at stall").click();
  await page.locator("#put-on-page").getByLabel("Light or dark").selectOption("dark");
  await page.locator("#put-on-page").getByLabel("Units", { exact: true }).selectOption("si");
  await page.waitForFunction(() => /theme=dark/.test(document.querySelector("#put-on-page textarea").value));
  await frame.waitForFunction(() => document.documentElement.dataset.scheme === "dark" && /°C/.test(document.querySelector("#key-launch")?.textContent));
  await page.waitForTimeout(400);
  assert.equal(await page.evaluate(() => history.length), steps);
  const shown = (await frame.$$eval(".keys dd", (all) => all.map((one) => one.textContent)));
  const [asFrame, asElement] = await page.$$eval("#put-on-page textarea", (all) => all.map((one) => one.value));
  const height = Number(asFrame.match(/height="(\d+)"/)[1]);
  assert.ok(Math.abs(height - await frame.evaluate(() => innerHeight)) <= 1);

  // The policy of the page around allows no script within it: the lines go into a file, as is said beside them.
  const script = asFrame.match(/<script>([^]*)<\/script>/)[1];
  pages["/height.js"] = script;
  const other = await around(asFrame.replace(/<script>[^]*/, "") + asElement.replace("<stallheat-view", '<stallheat-view id="b"'), { width: 320, height: 4200 });
  const both = await views(other.page, 2);
  await other.page.evaluate(() => {
    window.heard = [];
  });
  for (const one of both) {
    assert.deepEqual(await keys(one), shown);
    assert.equal(await one.evaluate(() => document.documentElement.dataset.scheme), "dark");
    assert.deepEqual(await one.$$eval(".control", (all) => all.map(({ dataset }) => dataset.path)), ["air.temperature", "cooler.ua", "circulation.flow", "car.mass"]);
    assert.equal(await one.isVisible("#launch-rows"), true);
    await one.waitForFunction(() => Math.abs(innerHeight - Math.ceil(document.querySelector("#view").getBoundingClientRect().height)) <= 1);
  }
  quiet(other.log);
  await other.close();

  // Locked: no controls are named or offered.
  await page.locator("#put-on-page label", { hasText: "only look" }).click();
  await page.waitForFunction(() => /locked=1/.test(document.querySelector("#put-on-page textarea").value));
  const locked = await page.$$eval("#put-on-page textarea", (all) => all.map((one) => one.value));
  assert.ok(locked.every((one) => !/controls=/.test(one)) && / locked /.test(locked[1]), locked.join("\n"));
  // A change of the day is in what is copied next.
  await box.fill("75");
  await box.press("Enter");
  await page.waitForFunction((was) => document.querySelector("#put-on-page textarea").value !== was, locked[0]);
  quiet(log);
  await close();
});

test("the lines that make a frame as tall as its content do it, and hear nobody else", async () => {
  const { page, close } = await site.open();
  await ready(page);
  await page.locator("#put-on-page > summary").click();
  await page.waitForFunction(() => /<script>/.test(document.querySelector("#put-on-page textarea")?.value));
  const snippet = await page.locator("#put-on-page textarea").first().inputValue();
  await close();
  const [frame, script] = snippet.split(/<\/?script>/);
  // Two days on one page, each pasted with the lines.
  const low = frame.replace(/height="\d+"/, 'height="300"');
  const other = await site.open({ path: null, width: 320, height: 2400, context: { bypassCSP: true } });
  pages["/bare"] = `<!doctype html><html lang="en"><title>A shop</title><link rel="icon" href="/favicon.ico">${frame}<script>${script}</script>${low}<script>${script}</script></html>`;
  await other.page.goto(`${hostOrigin()}/bare`);
  const [view, second] = await views(other.page, 2);
  for (const one of [view, second]) await one.waitForFunction(() => Math.abs(innerHeight - Math.ceil(document.querySelector("#view").getBoundingClientRect().height)) <= 1);
  const tall = await view.evaluate(() => innerHeight);
  await other.page.evaluate(() => postMessage({ stallheat: 1, id: 1, type: "height", height_px: 20 }, "*"));
  await other.page.waitForTimeout(200);
  assert.equal(await view.evaluate(() => innerHeight), tall);
  quiet(other.log);
  await other.close();
});

test("without the rest of the core a view is seen and changed; what the page around asks for waits for it or is refused", async () => {
  const table = { format: 1, name: "Own curve", setup: { engine: { torque_curve: "engine_speed (rpm), torque (lbf ft)\n3000, 500\n5000, 650\n7000, 600" } }, timeline: [{ event: "idle", duration: "5 min" }, { event: "pass" }] };
  for (const how of ["held", "refused"]) {
    pages["/"] = page(elementTag('id="a" controls="cooler.ua"'));
    const { page: tab, context, close } = await site.open({ path: null, width: 600, height: 2000 });
    let come;
    const coming = new Promise((done) => (come = done));
    let isRefused = how === "refused";
    await context.route(/stallheat_later\.wasm/, async (route) => {
      if (how === "held") await coming;
      return isRefused ? route.abort() : route.continue();
    });
    await tab.goto(`${hostOrigin()}/`);
    const [a] = await views(tab);
    const before = await keys(a);
    assert.equal(await a.$eval("#controls", (one) => one.inert), false);
    const cooler = a.locator(".control[data-path='cooler.ua'] input.number");
    await cooler.fill("40");
    await cooler.press("Enter");
    await a.waitForFunction((was) => document.querySelector("#key-peak").textContent !== was, before[0]);
    assert.equal(await a.isVisible("#problem"), false);
    const asked = set(tab, "a", { scenario: table });
    if (how === "held") {
      await tab.waitForTimeout(200);
      assert.match(await a.textContent("#day-name"), /Saturday/);
      come();
      assert.equal((await asked).day, "Own curve");
    } else {
      const { field, limit, remedy } = await asked;
      assert.deepEqual([field, limit, remedy], ["view", "a part of the program could not be loaded", "Send it again in a moment."]);
      assert.match(await a.textContent("#day-name"), /Saturday/);
      // The view works on, and has it later.
      await cooler.fill("110");
      await cooler.press("Enter");
      await a.waitForFunction((was) => document.querySelector("#key-peak").textContent === was, before[0]);
      isRefused = false;
      assert.equal((await set(tab, "a", { scenario: table })).day, "Own curve");
    }
    await a.waitForFunction(() => document.querySelector("#day-name").textContent === "Own curve");
    await close();
  }
});

test("a view weighs less than the page", async () => {
  /** Bytes of the first view as they came over the wire, of the core and of all else. */
  const weigh = async (path, shown) => {
    const { page, close } = await site.open({ path });
    await shown(page);
    const [all, files] = await page.evaluate(() => {
      const until = performance.getEntriesByName("day shown")[0]?.startTime ?? Infinity;
      const loaded = [...performance.getEntriesByType("navigation"), ...performance.getEntriesByType("resource")];
      const weights = (some) => some.map(({ name, encodedBodySize }) => [name, encodedBodySize]);
      return [weights(loaded.filter(({ startTime }) => startTime < until)), loaded.map(({ name }) => name)];
    });
    await close();
    const sum = (some) => some.reduce((total, [, size]) => total + size, 0);
    const wasm = all.filter(([name]) => /\.wasm$/.test(name));
    return { all, sum, has: files, files: all.length, wasm: wasm.length, core: sum(wasm), rest: sum(all) - sum(wasm) };
  };
  const view = await weigh("embed.html", computed);
  const full = await weigh("", ready);
  const kb = (bytes) => `${(bytes / 1000).toFixed(1)} kB`;
  console.log(`first view, gzip: core ${kb(view.core)}; beside it the view ${kb(view.rest)} in ${view.files - 1} files, the page ${kb(full.rest)} in ${full.files - 1}`);
  assert.deepEqual([view.wasm, view.core], [1, full.core]);
  // The core they share, tables and some scripts too, whether the page loads them at first or right after; of what is its
  // own a view needs half at most.
  const own = (one, other) => one.sum(one.all.filter(([name]) => !other.has.includes(name)));
  const [of, all] = [own(view, full), own(full, view)];
  assert.ok(of > 0 && of < all / 2, `${of} of ${all} bytes`);
  assert.ok(view.rest < full.rest, `${view.rest} of ${full.rest} bytes`);
});

test("docs/embedding.md has the messages and the options as they are", async () => {
  const docs = readFileSync(join(root, "docs/embedding.md"), "utf8");
  const examples = [...docs.matchAll(/```json\n([^]*?)```/g)].map(([, json]) => JSON.parse(json));
  const { page, log, close } = await around(frameTag(own()), { width: 600, height: 1800 });
  await views(page);
  for (const type of ["set", "reset"]) {
    const message = examples.find((one) => one.type === type);
    await post(page, message);
    await page.waitForFunction((id) => heard.some(({ data }) => data.reply_to?.includes(id)), message.id);
    assert.deepEqual((await heard(page, "state")).at(-1).reply_to, [message.id]);
  }
  await post(page, { stallheat: 1, id: "a", type: "set", parameters: { "cooler.ua": "110" } });
  await page.waitForFunction(() => heard.some(({ data }) => data.type === "error"));
  const shape = (value) => (Array.isArray(value) ? value.slice(0, 1).map(shape) : value && typeof value === "object" ? Object.fromEntries(Object.keys(value).sort().map((key) => [key, shape(value[key])])) : typeof value);
  for (const type of ["ready", "height", "state", "result", "error"]) {
    const said = (await heard(page, type))[0];
    const written = examples.find((one) => one.type === type);
    // A scenario is a file's, and an answer's ids are texts here.
    for (const one of [said, written]) {
      if (one.scenario) one.scenario = {};
      if (one.reply_to) one.reply_to = [];
    }
    assert.deepEqual(shape(written), shape(said), type);
  }
  assert.deepEqual((await heard(page, "error"))[0].limit, examples.find(({ type }) => type === "error").limit);
  quiet(log);
  await close();
  const options = docs.match(/\| option \|[^]*?\n\n/)[0].split("\n").slice(2).map((row) => row.match(/^\| `(\w+)`/)?.[1]).filter(Boolean);
  const [, known] = readFileSync(join(root, "www/embedaddress.js"), "utf8").match(/const FIELDS = (\[.*\]);/);
  assert.deepEqual(options.sort(), JSON.parse(known).sort());
});

test("while the day of a view is on its way there is nothing to change", async () => {
  pages["/"] = page(elementTag('id="a" controls="cooler.ua" example="dyno_bench_session"'));
  const { page: tab, context, log, close } = await site.open({ path: null, width: 600, height: 2000 });
  let come;
  const coming = new Promise((done) => (come = done));
  await context.route(/stallheat_later\.wasm/, async (route) => {
    await coming;
    return route.continue();
  });
  await tab.goto(`${hostOrigin()}/`);
  await tab.waitForFunction(() => document.querySelector("stallheat-view")?.shadowRoot?.querySelector("iframe"));
  const a = await (await tab.evaluateHandle(() => document.querySelector("stallheat-view").shadowRoot.querySelector("iframe"))).contentFrame();
  await a.waitForFunction(() => document.querySelector("#controls-body input"));
  assert.equal(await a.$eval("#controls", (one) => one.inert), true);
  come();
  await computed(a);
  assert.equal(await a.$eval("#controls", (one) => one.inert), false);
  quiet(log);
  await close();
});
