// Long work in the browser against its budgets: `node tests/bench/jobs.mjs` (see tests/bench/page.mjs). Each task runs in
// the page's own worker; the first time includes loading its core. Prints numbers and asserts none: machines are noisy.
//
// Environment: DRAWS of the band (1 000), PLANS (20).
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { openDayOf, root, startSite } from "../page/harness.mjs";

const DRAWS = Number(process.env.DRAWS ?? 1_000);
const PLANS = Number(process.env.PLANS ?? 20);
const text = (name) => readFileSync(join(root, name), "utf8");
const twelveHours = text("tests/data/twelve_hours.json");
const saturday = text("scenarios/saturday_bracket_day.json");

const site = await startSite();
const { page, close } = await openDayOf(site);
const run = (tasks) => page.evaluate(async (all) => {
  const address = document.querySelector("script[type=module]").src.replace(/main\.js$/, "job-worker.js");
  const worker = new Worker(address, { type: "module" });
  const long = [];
  const observer = new PerformanceObserver((list) => long.push(...list.getEntries().map(({ duration }) => duration)));
  observer.observe({ entryTypes: ["longtask"] });
  const times = [];
  for (const task of all) {
    const from = performance.now();
    await new Promise((resolve, reject) => {
      worker.onmessage = ({ data }) => (data.result ? resolve() : data.error && reject(new Error(data.error)));
      worker.onerror = (event) => reject(new Error(event.message));
      worker.postMessage(task);
    });
    times.push(performance.now() - from);
  }
  await new Promise((resolve) => setTimeout(resolve, 100));
  observer.disconnect();
  worker.terminate();
  return { times, longest: Math.max(0, ...long) };
}, tasks);

const ms = (value) => `${value.toFixed(0)} ms`;
const middle = (values) => [...values].sort((a, b) => a - b)[Math.floor(values.length / 2)];
const asked = (launch, minutes) => ({ launch, into_s: 0, free_s: minutes * 60, routes: ["pan_loop", "through_converter", "cooler_first"], fan: true, idle: true, idle_in_gear: false });
const plans = Array.from({ length: PLANS }, (_, index) => ({ kind: "plan", day: saturday, asked: asked(1 + (index % 5), 4 + index), every: false }));
const one = await run(plans);
console.log(`plan of one rest: first ${ms(one.times[0])}, then median ${ms(middle(one.times.slice(1)))}, longest ${ms(Math.max(...one.times.slice(1)))} (budget 300 ms)`);
const every = await run([plans[0], { kind: "plan", day: saturday, asked: { ...asked("every", 0), free_s: null }, every: true }]);
console.log(`plan of the whole day: ${ms(every.times[1])}`);
const band = await run([plans[0], { kind: "sure", workers: 2, day: twelveHours, nodes: ["converter_fluid", "pan_fluid"], times_s: new Array(200).fill(0).map((_, at) => at * 216), draws: DRAWS, known: [] }]);
console.log(`band, ${DRAWS} draws of twelve hours, two workers, with the tornado: ${(band.times[1] / 1000).toFixed(2)} s (budget 2 s)`);
console.log(`longest task of the page meanwhile: ${ms(Math.max(one.longest, every.longest, band.longest))} (budget 50 ms)`);
await close();
await site.close();
