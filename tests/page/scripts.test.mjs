// The scripts as the site serves them: few files, each module once, and what is needed later asked for later.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { ready, startSite } from "./harness.mjs";

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
  for (const name of ["later.js", "offline.js", "embedmaker.js", "daysheet.js", "job-worker.js"]) assert.ok(!first.includes(name), name);
  assert.ok(later.includes("later.js"), later.join(" "));
  // No file twice, under whatever address.
  const all = scripts(log.requests);
  assert.deepEqual([...new Set(all)].sort(), [...all].sort());
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
