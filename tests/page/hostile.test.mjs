// Whatever stands in the address or is posted to a view: a day, a named refusal or nothing; never an exception, never
// a lost input. A small seeded part of what `node tests/bench/hostile.mjs` tries by the million.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { cleanReadings } from "../../www/cleanreadings.js";
import { readLink } from "../../www/link.js";
import { requestOf } from "../../www/embedtalk.js";
import { bombs, companions, hostileLinks, linkOfText, tryLink } from "./hostile/links.mjs";
import { hostileMessages, strange, tryMessage, withStrange } from "./hostile/messages.mjs";
import { kept, openDayOf, settled, startSite, text } from "./harness.mjs";

let site;
before(async () => {
  site = await startSite();
});
after(() => site?.close());

test("any text of a link is read or refused in readable words", async () => {
  const next = await hostileLinks(20);
  const seen = { refused: 0, read: 0 };
  for (let at = 0; at < 4_000; at += 1) seen[await tryLink(next())] += 1;
  assert.ok(seen.refused > 1_000 && seen.read > 500, JSON.stringify(seen));
});

test("a link that unpacks to hundreds of megabytes is refused before it has", async () => {
  for (const bomb of bombs()) {
    const before = process.memoryUsage().rss;
    const started = performance.now();
    await tryLink(bomb);
    // Measured: 60 ms at most; a busy machine may take longer.
    assert.ok(performance.now() - started < 2_000, `${performance.now() - started} ms for ${bomb.slice(0, 60)}`);
    assert.ok(process.memoryUsage().rss - before < 120e6, `${process.memoryUsage().rss - before} bytes for ${bomb.slice(0, 60)}`);
  }
});

test("any message is understood, ignored or refused by name", () => {
  const seen = { ignored: 0, understood: 0, refused: 0 };
  for (const value of strange()) for (const message of [value, ...withStrange(value)]) seen[tryMessage(message)] += 1;
  const next = hostileMessages(20);
  for (let at = 0; at < 20_000; at += 1) seen[tryMessage(next())] += 1;
  assert.ok(Object.values(seen).every((count) => count > 1_000), JSON.stringify(seen));
});

test("a key without a name is refused by name", () => {
  assert.equal(tryMessage({ stallheat: 1, id: 1, type: "reset", "": 1 }), "refused");
});

test("links, messages and readings at their limits are read, just above they are refused", async () => {
  // docs/limits.md. What unpacks to 300,000 characters, and to one more.
  const state = (bytes) => `{"scenario":"${"x".repeat(bytes - 15)}"}`;
  assert.equal((await readLink(linkOfText(state(300_000)))).scenario.length, 299_985);
  await assert.rejects(readLink(linkOfText(state(300_001))), /more than 300 kB/);
  const link = linkOfText(state(1_000));
  assert.ok(await readLink(link + ".".repeat(200_000 - link.length)));
  await assert.rejects(readLink(link + ".".repeat(200_001 - link.length)), /200001 characters/);

  const set = (more) => ({ stallheat: 1, id: 1, type: "set", ...more });
  const limits = [
    [(over) => set({ id: "x".repeat(64 + over), units: "si" }), /64 characters/],
    [(over) => set({ parameters: { "cooler.ua": "1".repeat(200 + over) } }), /text with its unit/],
    // The message is level 0, its scenario the first.
    [(over) => set({ scenario: JSON.parse(`{"a":${"[".repeat(62 + over)}${"]".repeat(62 + over)}}`) }), /plain data/],
    // 67 of what is counted are keys, marks of texts and the other values.
    [(over) => set({ scenario: { a: "x".repeat(3_000_000 - 67 + over) } }), /3 MB/],
  ];
  for (const [message, says] of limits) {
    assert.equal(requestOf(message(0)).type, "set", String(says));
    assert.throws(() => requestOf(message(1)), says);
  }
  const row = { time: "1 min", place: "pan", shown: "90 °F" };
  assert.equal(cleanReadings({ rows: Array(501).fill({ ...row, note: "x".repeat(301) }) }).rows.length, 500);
  assert.equal(cleanReadings({ rows: [{ ...row, note: "x".repeat(301) }] }).rows[0].note.length, 300);
});

test("hostile links in the address of the page are opened or refused, and the work is kept", async (t) => {
  const opened = await openDayOf(site);
  const { page, log } = opened;
  await page.locator(".control[data-path=\"cooler.ua\"] input.number").fill("123 W/K");
  await page.keyboard.press("Enter");
  await settled(page);
  const mine = (await kept(page)).scenario;
  const next = await hostileLinks(Number(process.env.STALLHEAT_SEED ?? 3));
  const count = Number(process.env.STALLHEAT_CASES ?? 60);
  // Beyond that a browser by itself takes seconds for an address, whatever page is open.
  const links = [...bombs().filter((bomb) => bomb.length < 210_000 && !/[\ud800-\udfff]/.test(bomb)), ...companions(), ...Array.from({ length: count }, next)];
  const seen = { opened: 0, refused: 0, unchanged: 0 };
  let slowest = 0;
  for (const hash of links) {
    const before = (await kept(page)).scenario;
    const started = performance.now();
    await page.evaluate((to) => {
      document.querySelector("#problem-text").textContent = "";
      location.hash = to;
    }, hash);
    await page.waitForTimeout(60);
    await settled(page);
    slowest = Math.max(slowest, performance.now() - started - 60);
    const now = (await kept(page)).scenario;
    const said = await page.evaluate(() => (document.querySelector("#problem").hidden ? "" : document.querySelector("#problem").textContent));
    const changed = JSON.stringify(now) !== JSON.stringify(before);
    const what = changed ? "opened" : said ? "refused" : "unchanged";
    seen[what] += 1;
    assert.doesNotMatch(said, /fault of the program|\[object|TypeError|RangeError|Maximum call/, hash.slice(0, 300));
    assert.ok(said.length < 1_500, `${said.length} characters are said of ${hash.slice(0, 100)}`);
    assert.deepEqual([log.errors, log.console, log.failed], [[], [], []], hash.slice(0, 2_000));
  }
  t.diagnostic(`${links.length} links: ${JSON.stringify(seen)}, slowest ${slowest.toFixed(0)} ms`);
  assert.ok(seen.opened > 0 && seen.refused > 10, JSON.stringify(seen));
  assert.ok(slowest < 10_000, `${slowest} ms`);
  // What was typed before comes back step by step.
  for (let step = 0; step <= seen.opened && JSON.stringify((await kept(page)).scenario) !== JSON.stringify(mine); step += 1) {
    await page.evaluate(() => document.querySelector("#undo").click());
    await settled(page);
  }
  assert.deepEqual((await kept(page)).scenario.setup, mine.setup);
  await opened.close();
});
