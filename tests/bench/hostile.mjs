// Hostile links and messages, as many as wanted: `node tests/bench/hostile.mjs links [count] [seed]`, or `messages`.
//
// Says how many were refused, read and computed, the slowest, and how far memory rose; what came out of a door otherwise is
// counted by its cause, with the first example, and makes the exit code 1. With STALLHEAT_SITE, or after
// `cargo run --release -- build --out target/site-test`, the days of links are computed by the page's own core.
import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { pathToFileURL } from "node:url";
import { root } from "../page/harness.mjs";
import { bombs, hostileLinks, tryLink } from "../page/hostile/links.mjs";
import { hostileMessages, strange, tryMessage, withStrange } from "../page/hostile/messages.mjs";

const [what = "links", countText = "1000000", seedText = "1"] = process.argv.slice(2);
const [count, seed] = [Number(countText), Number(seedText)];

/** The page's core, without a page. */
async function coreOf(site) {
  const folder = readdirSync(site).find((name) => /^v-/.test(name));
  const core = await import(pathToFileURL(join(site, folder, "core/stallheat.js")).href);
  await core.default({ module_or_path: readFileSync(join(site, folder, "core/stallheat_bg.wasm")) });
  await core.more(readFileSync(join(site, folder, "later/stallheat_later.wasm")));
  return core;
}

const seen = {};
const add = (key) => {
  seen[key] = (seen[key] ?? 0) + 1;
};
const faults = new Map();
let slowest = { ms: 0 };
let most = process.memoryUsage().rss;

async function measured(made, act) {
  const started = performance.now();
  try {
    add(await act(made));
  } catch (error) {
    const cause = String(error?.stack ?? error).split("\n").slice(0, 3).join(" ").replace(/[0-9]+/g, "#").slice(0, 160);
    const known = faults.get(cause) ?? { count: 0, error, made };
    known.count += 1;
    faults.set(cause, known);
  }
  const ms = performance.now() - started;
  if (ms > slowest.ms) slowest = { ms, made };
}

async function links() {
  const core = await coreOf(process.env.STALLHEAT_SITE ?? join(root, "target/site-test"));
  const computed = (text) => {
    try {
      core.Day.simulate(text).free();
      add("computed");
    } catch (error) {
      if (!["field", "value", "limit", "remedy"].every((part) => typeof error?.[part] === "string") || !error.field) throw error;
      add("refused by the core");
    }
  };
  for (const bomb of bombs()) await measured(bomb, (hash) => tryLink(hash, computed));
  const next = await hostileLinks(seed);
  for (let at = 0; at < count; at += 1) {
    await measured(next(), (hash) => tryLink(hash, computed));
    if (at % 5_000 === 0) most = Math.max(most, process.memoryUsage().rss);
  }
}

async function messages() {
  for (const value of strange()) for (const message of [value, ...withStrange(value)]) await measured(message, tryMessage);
  const next = hostileMessages(seed);
  for (let at = 0; at < count; at += 1) {
    await measured(next(), tryMessage);
    if (at % 5_000 === 0) most = Math.max(most, process.memoryUsage().rss);
  }
}

const before = process.memoryUsage().rss;
const started = performance.now();
await (what === "messages" ? messages() : links());
const seconds = (performance.now() - started) / 1000;
console.log(`${count} hostile ${what}, seed ${seed}, in ${seconds.toFixed(0)} s: ${JSON.stringify(seen)}`);
console.log(`slowest ${slowest.ms.toFixed(0)} ms; memory ${(before / 1e6).toFixed(0)} MB, at most ${(most / 1e6).toFixed(0)} MB`);
for (const { count: times, error, made } of faults.values()) {
  console.log(`\nFAULT ${times} times: ${String(error?.stack ?? error).slice(0, 600)}`);
  console.log(typeof made === "string" ? made.slice(0, 400) : made);
}
process.exitCode = faults.size > 0 ? 1 : 0;
