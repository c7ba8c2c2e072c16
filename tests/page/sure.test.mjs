// How sure: the tornado of the page against what `stallheat band --json` says of the same day.

import assert from "node:assert/strict";
import { execFileSync } from "node:child_process";
import { join } from "node:path";
import { after, before, test } from "node:test";
import { openDayOf, openPart, press, quiet, root, startSite, tableRows } from "./harness.mjs";

let site;
before(async () => (site = await startSite()));
after(() => site?.close());

test("the bars have the numbers of the command line", async () => {
  const program = process.env.STALLHEAT_BIN ?? join(root, "target/release/stallheat");
  const { tornado } = JSON.parse(execFileSync(program, ["band", join(root, "scenarios/saturday_bracket_day.json"), "--json"]));
  const { page, log, close } = await openDayOf(site, {});
  await openPart(page, "band");
  await press(page, "#band-draw");
  await page.locator("#band-bars tr").nth(7).waitFor({ timeout: 60_000 });
  const paths = await page.locator("[data-bar]").evaluateAll((all) => all.map((one) => one.dataset.bar));
  const bars = tornado.last_pan_c.bars.slice(0, 8);
  assert.deepEqual(paths, bars.map((bar) => bar.parameter));
  // Shown in tenths of a degree Fahrenheit; wasm and native differ by rounding.
  (await tableRows(page, "#band-bars")).forEach((row, at) => row.slice(2).forEach((cell, end) =>
    assert.ok(Math.abs(Number(cell) - (bars[at].measure_at_ends[end] * 1.8 + 32)) < 0.06, `${row}`)));
  quiet(log);
  await close();
});
