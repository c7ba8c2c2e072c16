// How long a day takes in the browser: `node tests/bench/browser.mjs` (after `npm ci --prefix tests/page`; the
// page is built first unless STALLHEAT_SITE names a built one). Machines are noisy; compare within one run.
import { readFileSync } from "node:fs";
import { resolve } from "node:path";
import { root, startSite } from "../page/harness.mjs";

const RUNS = 60;
const computed = readFileSync(resolve(root, "tests/data/twelve_hours.json"), "utf8");
const logged = computed.replace(
  '{"event": "pass"}',
  '{"event": "pass", "duration": "10.2 s", "engine_speed": "6500 rpm", "input_power": "490 hp", "slip": 0.17, "road_speed": "88 mph", "shifts": 1}',
);
const days = {
  "12 h, ten rounds, passes logged": logged,
  "12 h, ten rounds, passes computed": computed,
  "Saturday bracket day": readFileSync(resolve(root, "scenarios/saturday_bracket_day.json"), "utf8"),
};

const site = await startSite();
try {
  const { page } = await site.open();
  await page.waitForFunction(() => document.querySelector("#version")?.textContent);
  for (const [name, text] of Object.entries(days)) {
    const took = await page.evaluate(
      async ({ text, runs }) => {
        const script = performance.getEntriesByType("resource").find((entry) => entry.name.endsWith("core/stallheat.js"));
        const core = await import(script.name);
        const simulate = [];
        const summary = [];
        // Apart, so that collecting the summaries' garbage does not fall into the simulations.
        for (let run = 0; run < runs; run += 1) {
          const start = performance.now();
          const day = core.Day.simulate(text);
          simulate.push(performance.now() - start);
          day.free();
        }
        const day = core.Day.simulate(text);
        for (let run = 0; run < runs; run += 1) {
          const start = performance.now();
          day.summary("us");
          summary.push(performance.now() - start);
        }
        day.free();
        const middle = (list) => list.sort((a, b) => a - b)[list.length >> 1];
        return { least: Math.min(...simulate), simulate: middle(simulate), summary: middle(summary) };
      },
      { text, runs: RUNS },
    );
    const ms = (value) => value.toFixed(1).padStart(6);
    console.log(
      `${name.padEnd(36)} parse and simulate ${ms(took.simulate)} ms (least ${ms(took.least)}), summary ${ms(took.summary)} ms`,
    );
  }
} finally {
  await site.close();
}
