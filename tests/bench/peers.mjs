// The same day by our wasm and our native program, by SciPy, by libraries from npm in the same Chromium and by another
// Rust library, at the same measured error: `node tests/bench/peers.mjs [rounds]` (after `npm ci --prefix tests/page`).
// It builds what it needs (Rust programs, npm packages, a virtual environment with the versions of
// tests/reference/requirements.txt under target/) and writes the tables of docs/speed.md.
//
// Everybody integrates the same pieces of the day (tests/bench/peers/src/pieces.rs) with the same right-hand side, which
// is compared first; nobody but we searches for events, books heat or keeps samples. The tolerance of each is the loosest
// of a ladder whose largest error at the ends of events is no larger than ours. Then all are timed in turns.
//
// Environment: STALLHEAT_SITE (a built page), CHROMIUM, PYTHON (an interpreter that has SciPy), PEERS_DAY (a scenario).
import assert from "node:assert/strict";
import { execFileSync } from "node:child_process";
import { existsSync, readFileSync, readdirSync, statSync, writeFileSync } from "node:fs";
import { cpus } from "node:os";
import { join, relative, resolve } from "node:path";
import { root, startSite } from "../page/harness.mjs";

const ROUNDS = Number(process.argv[2] ?? 7);
const DAY = resolve(root, process.env.PEERS_DAY ?? "scenarios/saturday_bracket_day.json");
const peers = join(root, "tests/bench/peers");
const target = resolve(root, process.env.CARGO_TARGET_DIR ?? "target");
const REPEATS = { native: 40, wasm: 40, rust: 40, page: 25 };
// The right-hand sides are the same equations on the same tables: nothing but rounding may differ.
const RIGHT_HAND_SIDE_OFF = 1e-9;

const say = (text) => process.stderr.write(`${text}\n`);
const run = (program, args, options) => execFileSync(program, args, { encoding: "utf8", stdio: ["ignore", "pipe", "inherit"], maxBuffer: 1 << 26, ...options });

function rustProgram() {
  run("cargo", ["build", "--release", "--quiet", "--manifest-path", join(peers, "Cargo.toml")], { env: { ...process.env, CARGO_TARGET_DIR: target } });
  return (...args) => JSON.parse(run(join(target, "release/stallheat-peers"), args.map(String)));
}

function pythonProgram() {
  let python = process.env.PYTHON;
  if (!python) {
    const folder = join(target, "twin");
    python = join(folder, "bin/python");
    if (!existsSync(python)) run("python3", ["-m", "venv", folder]);
    run(python, ["-m", "pip", "install", "--quiet", "--disable-pip-version-check", "-r", join(root, "tests/reference/requirements.txt")]);
  }
  return (...args) => JSON.parse(run(python, [join(peers, "peers.py"), ...args.map(String)]));
}

/** The scripts of the npm packages: { "odex/src/odex.js": text }. */
function packages() {
  if (!existsSync(join(peers, "node_modules/odex"))) run("npm", ["ci", "--prefix", peers, "--no-audit", "--no-fund"]);
  const folder = join(peers, "node_modules");
  const found = {};
  for (const [name, sub] of [["odex", "src"], ["dopri", "lib"], ["ode45-cash-karp", "lib"], ["numeric", "."]]) {
    const walk = (path) => {
      for (const entry of readdirSync(path)) {
        const inner = join(path, entry);
        if (statSync(inner).isDirectory()) walk(inner);
        else if (/\.js$/.test(entry) && !/min\.js$/.test(entry)) found[relative(folder, inner)] = readFileSync(inner, "utf8");
      }
    };
    walk(join(folder, name, sub));
  }
  return found;
}

/** A page with nothing of ours but the right-hand side in JavaScript, and the libraries. */
async function peerPage(browser, data) {
  const page = await browser.newPage();
  await page.evaluate(({ files, model, adapters, data }) => {
    const made = {};
    const mains = { odex: "odex/src/odex.js", dopri: "dopri/lib/index.js", "ode45-cash-karp": "ode45-cash-karp/lib/index.js", numeric: "numeric/numeric-1.2.6.js" };
    const load = (path) => {
      if (made[path]) return made[path].exports;
      const module = (made[path] = { exports: {} });
      const near = (name) => load(new URL(`${name}.js`, `file:///${path}`).pathname.slice(1));
      new Function("module", "exports", "require", "global", files[path])(module, module.exports, near, window);
      return module.exports;
    };
    const plain = (text) => text.replaceAll(/^export /gm, "");
    const { makeDay, rightHandSideOff, runDay } = new Function(`${plain(model)}; return { makeDay, rightHandSideOff, runDay };`)();
    const { integrators } = new Function(`${plain(adapters)}; return { integrators };`)();
    const all = integrators((name) => load(mains[name]));
    const day = makeDay(data);
    window.peers = {
      names: Object.keys(all),
      off: rightHandSideOff(day),
      solve: (name, tolerance, ledger) => {
        try {
          return runDay(day, all[name], tolerance, ledger);
        } catch {
          return { error: Infinity, calls: 0 };
        }
      },
    };
  }, { files: packages(), model: readFileSync(join(peers, "model.mjs"), "utf8"), adapters: readFileSync(join(peers, "integrators.mjs"), "utf8"), data });
  return page;
}

const chooseInPage = (page, aim, ledger) => page.evaluate(({ aim, ledger }) => window.peers.names.map((name) => {
  const ladder = (step) => 10 ** (-step / 8);
  let step = 16;
  let found = window.peers.solve(name, ladder(step), ledger);
  while (!(found.error <= aim) && step < 80) {
    step += 1;
    found = window.peers.solve(name, ladder(step), ledger);
  }
  return { key: name, name, relative: ladder(step), error_k: found.error, closure: found.closure };
}), { aim, ledger });

/** Least seconds of some repeats. */
const timeInPage = (page, { key, relative: tolerance, ledger }) => page.evaluate(({ key, tolerance, ledger, repeats }) => {
  let least = Infinity;
  let calls;
  for (let i = 0; i < repeats; i += 1) {
    const start = performance.now();
    ({ calls } = window.peers.solve(key, tolerance, ledger));
    least = Math.min(least, performance.now() - start);
  }
  return { seconds: least / 1e3, evaluations: calls };
}, { key, tolerance, ledger, repeats: REPEATS.page });

const timeWasm = (page, text) => page.evaluate(async ({ text, repeats }) => {
  const script = performance.getEntriesByType("resource").find((entry) => entry.name.endsWith("core/stallheat.js"));
  const core = await import(script.name);
  let least = Infinity;
  for (let i = 0; i < repeats; i += 1) {
    const start = performance.now();
    const day = core.Day.simulate(text);
    least = Math.min(least, performance.now() - start);
    day.free();
  }
  return { seconds: least / 1e3 };
}, { text, repeats: REPEATS.wasm });

const sorted = (list) => [...list].sort((a, b) => a - b);
const median = (list) => sorted(list)[list.length >> 1];
const digits = (value, count = 3) => (value >= 10 ** (count - 1) ? value.toFixed(0) : String(Number(value.toPrecision(count))));
const ms = (seconds) => digits(1e3 * seconds);
const spread = (list) => `${ms(Math.min(...list))}–${ms(Math.max(...list))}`;

const rust = rustProgram();
const python = pythonProgram();
const text = readFileSync(DAY, "utf8");
const piecesFile = join(target, "peers-pieces.json");
const cut = rust("cut", DAY, piecesFile);
const aim = cut.own_error_k;
say(`${cut.pieces} pieces, our error ${aim.toExponential(2)} K`);

const site = await startSite();
const rows = [];
let versions;
let costs;
let grown;
try {
  const { page } = await site.open();
  await page.waitForFunction(() => document.querySelector("#version")?.textContent);
  const blank = await peerPage(site.browser, JSON.parse(readFileSync(piecesFile, "utf8")));
  versions = { chromium: site.browser.version() };

  // Right-hand sides first: whoever computes something else is not worth timing.
  const off = await blank.evaluate(() => window.peers.off);
  assert.ok(off < RIGHT_HAND_SIDE_OFF, `the right-hand side in JavaScript is ${off} off`);
  rows.push({ name: "**stallheat, native**, text to trace", error_k: aim, relative: 3e-5, time: () => rust("time", DAY, "whole", REPEATS.native) });
  rows.push({ name: "**stallheat, wasm in Chromium**, text to trace", error_k: aim, relative: 3e-5, time: () => timeWasm(page, text) });
  for (const ledger of [true, false]) {
    const kind = ledger ? "ledger" : "bare";
    const inPython = python("choose", piecesFile, aim, kind);
    assert.ok(inPython.right_hand_side_off < RIGHT_HAND_SIDE_OFF, `the right-hand side in Python is ${inPython.right_hand_side_off} off`);
    assert.ok(inPython.tight_error_k < 1e-4, `SciPy's DOP853 at 1e-9 is ${inPython.tight_error_k} K off`);
    versions.tight = inPython.tight_error_k;
    versions.off = Math.max(off, inPython.right_hand_side_off);
    const add = (group, chosen, time) => {
      for (const found of chosen) {
        // Who does not come as near as we do, or books other heat, is not compared.
        assert.ok(found.error_k <= aim, `${found.name} is ${found.error_k} K off`);
        if (ledger) assert.ok(found.closure < 1e-9, `the ledger of ${found.name} is open by ${found.closure}`);
        rows.push({ ...found, group, ledger, name: `${group}: ${found.name}`, time: () => time({ ...found, ledger }) });
      }
    };
    add("Rust", rust("choose", DAY, aim, kind), (found) => rust("time", DAY, found.key, found.relative, kind, REPEATS.rust));
    add("JavaScript in Chromium", await chooseInPage(blank, aim, ledger), (found) => timeInPage(blank, found));
    add("Python", inPython.chosen, (found) => python("time", piecesFile, found.key, found.relative, kind, 2));
  }
  for (const row of rows) row.times = [];
  for (let round = 0; round < ROUNDS; round += 1) {
    for (const row of rows) {
      const { seconds, evaluations } = await row.time();
      row.times.push(seconds);
      row.evaluations = evaluations ?? rows[0].evaluations;
    }
    say(`round ${round + 1}: ${rows.map((row) => ms(row.times.at(-1))).join(" ")} ms`);
  }
  costs = rust("cost", DAY, ROUNDS);
  grown = rust("grow", DAY, REPEATS.native);
} finally {
  await site.close();
}

const [native, wasm] = rows.map((row) => median(row.times));
const line = (row) => {
  const time = median(row.times);
  return `| ${row.name} | ${row.relative.toExponential(1)} | ${row.error_k.toExponential(1)} | ${row.evaluations} | ${ms(time)} | ${spread(row.times)} | ${digits(time / native)} | ${digits(time / wasm)} |`;
};
const head = "| who | relative tolerance | largest error, K | derivative calls | ms, median | ms, spread | over native | over wasm |\n|---|---|---|---|---|---|---|---|";
const part = (ledger) => rows.filter((row) => row.ledger === ledger).map(line).join("\n");
const least = (group, ledger) => sorted(rows.filter((row) => row.group === group && row.ledger === ledger).map((row) => median(row.times)))[0];
const aims = [["wasm over native", "≤ 1.3", wasm / native, wasm / native <= 1.3]];
for (const [ledger, what] of [[true, "with the ledger"], [false, "temperatures alone"]]) {
  for (const [where, time] of [["native", native], ["wasm", wasm]]) {
    const ratio = least("Python", ledger) / time;
    aims.push([`fastest of SciPy, ${what}, over ${where}`, "≥ 100", ratio, ratio >= 100]);
  }
  const ratio = least("JavaScript in Chromium", ledger) / wasm;
  aims.push([`fastest of npm, ${what}, over wasm`, "≥ 3", ratio, ratio >= 3]);
}
const middle = (key) => median(costs.map((round) => round[key]));
const derivative = middle("heat_s") + middle("pass_s");
const whole = median(costs.map((round) => round.whole_s / (round.heat_s + round.pass_s)));
aims.push(["whole over derivative calls × cost of one", "≤ 2", whole, whole <= 2]);
const parts = [
  ["text to scenario", middle("parse_s")],
  ["set-up prepared (curves, engine, first pumps)", middle("prepare_s")],
  ["day simulated, set-up included", middle("whole_s")],
  ["day simulated again on a prepared set-up", middle("again_s")],
  [`derivative with its books between passes: ${costs[0].heat_calls} calls of ${digits((1e9 * middle("heat_s")) / costs[0].heat_calls)} ns`, middle("heat_s")],
  [`derivative with its books in passes: ${costs[0].pass_calls} calls of ${digits((1e9 * middle("pass_s")) / costs[0].pass_calls)} ns`, middle("pass_s")],
];
const growth = (list, key) => list.map((day) => `| ${day[key]} | ${day.events} | ${day.hours} | ${day.evaluations} | ${ms(day.seconds)} | ${digits((1e6 * day.seconds) / day.evaluations)} |`);
const cpu = cpus();
const measured = `Day: ${JSON.parse(text).name}, ${digits(cut.hours)} h, ${cut.events} events, cut into ${cut.pieces} smooth pieces, of which ${cut.driven} are parts of computed passes. Machine: ${cpu.length} cores, ${cpu[0].model.trim()}, ${process.platform} ${process.arch}; Chromium ${versions.chromium}, ${run("rustc", ["--version"]).trim().replace(/ \(.*/, "")}. ${ROUNDS} rounds in turns. The right-hand sides agree to ${versions.off.toExponential(0)} of the largest rate; SciPy's DOP853 at 1e−9 ends every event within ${versions.tight.toExponential(0)} K of the reference.

Ours: everything from the text of the scenario to the trace, pumps and circuits solved, events searched for, heat booked, samples kept.

${head}
${rows.slice(0, 2).map(line).join("\n")}

Others, with the running totals of the ${cut.paths} paths of heat as further states, so that they deliver the ledger too:

${head}
${part(true)}

Others, temperatures alone:

${head}
${part(false)}

| aim | wanted | measured | |
|---|---|---|---|
${aims.map(([what, wanted, value, met]) => `| ${what} | ${wanted} | ${digits(value)} | ${met ? "met" : "missed"} |`).join("\n")}

Where our own time goes (native, the same run):

| part | ms |
|---|---|
${parts.map(([what, seconds]) => `| ${what} | ${ms(seconds)} |`).join("\n")}

Derivative calls × cost of one: ${ms(derivative)} ms, all states that the solver asks about replayed in their order. The whole is ${digits(whole)} times that, the day on a prepared set-up ${digits(median(costs.map((round) => round.again_s / (round.heat_s + round.pass_s))))} times. The day makes ${costs[0].calls} calls in all: besides these, the nominal pass and what lies beyond an event's end, which count as overhead here.

Cost against the number of events (twelve hours, rounds of 20 min):

| rounds | events | hours | derivative calls | ms | µs a call |
|---|---|---|---|---|---|
${growth(grown.events, "rounds").join("\n")}

Cost against the length of the day (six rounds, then parked):

| rounds | events | hours | derivative calls | ms | µs a call |
|---|---|---|---|---|---|
${growth(grown.hours, "rounds").join("\n")}
`;
const file = join(root, "docs/speed.md");
const [from, to] = ["<!-- measured: written by tests/bench/peers.mjs -->", "<!-- end of what is measured -->"];
const page = readFileSync(file, "utf8");
assert.ok(page.includes(from) && page.includes(to), "docs/speed.md has its two marks");
writeFileSync(file, `${page.slice(0, page.indexOf(from) + from.length)}\n\n${measured}\n${page.slice(page.indexOf(to))}`);
console.log(measured);
