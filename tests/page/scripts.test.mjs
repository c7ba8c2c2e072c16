// The scripts as the site serves them: few files, each module once, and what is needed later asked for later.
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { after, before, test } from "node:test";
import { openDayOf, ready, root, settled, slider, startSite } from "./harness.mjs";

let site;
before(async () => {
  site = await startSite();
});
after(() => site?.close());

const scripts = (addresses) => addresses.map((address) => new URL(address).pathname.split("/").pop()).filter((name) => name.endsWith(".js"));

test("the first view needs few scripts, and none of those for later before the day is shown", async () => {
  const { page, log, close } = await site.open();
  await ready(page);
  const asked = await page.evaluate(() => {
    const [{ startTime: shown }] = performance.getEntriesByName("day shown");
    const of = (when) => performance.getEntriesByType("resource").filter(({ startTime }) => when(startTime < shown)).map(({ name }) => name);
    return [of((first) => first), of((first) => !first)];
  });
  const [first, later] = asked.map(scripts);
  assert.ok(first.includes("main.js") && first.length <= 7, first.join(" "));
  for (const name of ["soon.js", "share.js", "later.js", "words.js", "offline.js", "embedmaker.js", "daysheet.js", "job-worker.js"]) assert.ok(!first.includes(name), name);
  for (const name of ["soon.js", "share.js", "later.js", "words.js"]) assert.ok(later.includes(name), later.join(" "));
  // No file twice, under whatever address.
  const all = scripts(log.requests);
  assert.deepEqual([...new Set(all)].sort(), [...all].sort());
  await close();
});

test("beside the core the first view is light, and has one style sheet", async () => {
  const { page, close } = await site.open();
  await ready(page);
  const first = await page.evaluate(() => {
    const [{ startTime: shown }] = performance.getEntriesByName("day shown");
    return [...performance.getEntriesByType("navigation"), ...performance.getEntriesByType("resource")]
      .filter(({ name, startTime }) => startTime < shown && !/\.(wasm|svg|png|webmanifest)$/.test(name))
      .map(({ name, encodedBodySize }) => [new URL(name).pathname.split("/").pop(), encodedBodySize]);
  });
  const sum = first.reduce((total, [, size]) => total + size, 0);
  // HTML, style and scripts as they come over the wire. Not a law of nature: a budget, so that growth is noticed.
  assert.ok(sum < 50_000, `${sum} bytes: ${first.map(([name, size]) => `${name || "page"} ${size}`).join(", ")}`);
  assert.deepEqual(first.map(([name]) => name).filter((name) => name.endsWith(".css")), ["style.css"]);
  await close();
});

test("of the core only its first part comes before the day is shown, in its budget, and is enough for it", async () => {
  const { page, log, close } = await site.open();
  await ready(page);
  const [first, later] = await page.evaluate(() => {
    const [{ startTime: shown }] = performance.getEntriesByName("day shown");
    const wasm = performance.getEntriesByType("resource").filter(({ name }) => name.endsWith(".wasm"));
    const of = (when) => wasm.filter(({ startTime }) => when(startTime < shown)).map(({ name, encodedBodySize }) => [name.split("/").pop(), encodedBodySize]);
    return [of((is) => is), of((is) => !is)];
  });
  assert.deepEqual(first.map(([name]) => name), ["stallheat_bg.wasm"]);
  assert.ok(first[0][1] > 50_000 && first[0][1] <= 150_000, `${first[0][1]} bytes`);
  assert.deepEqual(later.map(([name]) => name), ["stallheat_later.wasm"]);
  // Where something absent is asked for, a fresh core is loaded.
  assert.deepEqual(log.requests.filter((address) => address.includes("again=")), []);
  await close();
});

test("with its first part alone the core computes the first example or refuses it as all of it does, wherever a parameter is set", async () => {
  const { page, close } = await site.open();
  await ready(page);
  const text = readFileSync(join(root, "scenarios/saturday_bracket_day.json"), "utf8");
  const { properties } = JSON.parse(readFileSync(join(root, "docs/scenario.schema.json"), "utf8")).properties.setup;
  const parameters = Object.entries(properties).flatMap(([part, { properties: rows = {} }]) => Object.entries(rows).flatMap(([key, { description = "" }]) => {
    const [, low, high, unit] = description.match(/From (\S+)(?: .*?)? to (\S+)(?: (.+?))?; default/) ?? [];
    return low === undefined ? [] : [{ part, key, low: Number(low), high: Number(high), unit }];
  }));
  const told = await page.evaluate(async ({ text, parameters }) => {
    const { name } = performance.getEntriesByType("resource").find((one) => one.name.endsWith("core/stallheat.js"));
    const cores = [];
    for (const which of ["first", "whole"]) {
      const core = await import(`${name}?${which}`);
      await core.default();
      if (which === "whole") await core.more();
      cores.push(core);
    }
    const outcome = (core, scenario) => {
      try {
        const day = core.Day.simulate(scenario);
        const said = JSON.stringify([day.summary("us"), day.summary("si"), day.setup("us"), day.moment(20_000, "si")]);
        day.free();
        return said;
      } catch (error) {
        if (error.absent) return "absent";
        return "limit" in error ? `error: ${error.field} ${error.value} ${error.limit} ${error.remedy}` : `stopped: ${error}`;
      }
    };
    const all = [];
    for (const { part, key, low, high, unit } of parameters) {
      const shares = [0, 0.1, 0.5, 1, 1.1, -2].map((share) => low + share * (high - low)).map((value) => (unit ? `${value} ${unit}` : value));
      // As somebody types it, too.
      for (const value of [...shares, "abc", `1e400 ${unit ?? ""}`, "5 furlongs", "5 psi", "", "1.5.2", `${"9".repeat(300)} ${unit ?? ""}`, true]) {
        const scenario = JSON.parse(text);
        scenario.setup[part] = { ...scenario.setup[part], [key]: value };
        const [first, whole] = cores.map((core) => outcome(core, JSON.stringify(scenario)));
        all.push({ what: `${part}.${key} ${value}`, isSame: first === whole, first: first.slice(0, 60), whole: whole.slice(0, 60) });
      }
    }
    return all;
  }, { text, parameters });
  const errors = told.filter(({ whole }) => whole.startsWith("error: "));
  assert.ok(told.length > 1_000 && errors.length > 500 && errors.length < 0.8 * told.length, `${errors.length} errors of ${told.length}`);
  assert.deepEqual(told.filter(({ isSame, whole }) => !isSame || whole.startsWith("stopped: ")), []);
  await close();
});

const firstPart = (page) => page.locator("#parts-body > details").first();
const cars = (page) => page.locator(".setup-head option").count();
/** What the first "?" of a part of "Everything else" explains; the part is opened. */
async function explained(page) {
  const part = firstPart(page);
  if (!(await part.evaluate((node) => node.open))) await part.locator("summary").first().click();
  const control = part.locator(".control:has(.ask)").first();
  const [ask, help] = [control.locator(".ask"), control.locator("p.help").last()];
  if ((await ask.getAttribute("aria-expanded")) === "true") await ask.click();
  await ask.click();
  await help.filter({ hasNotText: /^(Loading…)?$/ }).waitFor();
  return help.textContent();
}

const EXPLAINED = /^[A-Z].+\. Default from: .+\.$/;

test("words that are read when asked for come after the day", async () => {
  const { page, close } = await openDayOf(site);
  assert.match(await explained(page), EXPLAINED);
  assert.ok(await cars(page) > 3);
  // Other ways to state a parameter explain themselves.
  assert.match(await firstPart(page).locator("details.way p.help").first().textContent(), / Source: .+\.$/);
  assert.ok((await page.locator(".day-picture figcaption").first().textContent()).length > 20);
  await close();
});

test("without the longer words the controls work and say so, and they are asked for again", async () => {
  const { page, log, close } = await site.open({ path: null });
  let refused = true;
  await page.route("**/words.js*", (route) => (refused ? route.abort() : route.continue()));
  await page.goto(site.url);
  await ready(page);
  assert.match(await explained(page), /^This text could not be loaded\./);
  assert.equal(await cars(page), 1);
  assert.ok(await firstPart(page).locator("input[type=range]").count() > 0);
  await slider(page, "air.temperature").press("ArrowRight");
  await settled(page);
  assert.equal(await page.locator("#problem").isVisible(), false);
  refused = false;
  await page.waitForTimeout(3_200);
  assert.match(await explained(page), EXPLAINED);
  assert.ok(await cars(page) > 3);
  assert.deepEqual(log.errors, []);
  await close();
});

test("while the longer words are on their way nothing waits for them", async () => {
  const { page, close } = await site.open({ path: null });
  let go;
  const held = new Promise((done) => (go = done));
  await page.route("**/words.js*", async (route) => {
    await held;
    await route.continue();
  });
  await page.goto(site.url);
  await ready(page);
  await firstPart(page).locator("summary").first().click();
  const control = firstPart(page).locator(".control:has(.ask)").first();
  await control.locator(".ask").click();
  assert.equal(await control.locator("p.help").last().textContent(), "Loading…");
  assert.ok(await page.locator("#what-if > *").count() > 0);
  go();
  await control.locator("p.help").last().filter({ hasText: EXPLAINED }).waitFor();
  await close();
});

test("a stack trace names the page's functions", async () => {
  const { page, close } = await site.open({ path: null });
  await page.addInitScript(() => {
    const mark = performance.mark.bind(performance);
    performance.mark = (...what) => {
      window.traced ??= new Error("here").stack;
      return mark(...what);
    };
  });
  await page.goto(site.url);
  await ready(page);
  assert.match(await page.evaluate(() => window.traced), /\bat (?:async )?start(?:\$\d+)? \(/);
  await close();
});
