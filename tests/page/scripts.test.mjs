// The scripts as the site serves them: few files, each module once, and what is needed later asked for later.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { openDayOf, ready, settled, slider, startSite } from "./harness.mjs";

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
  for (const name of ["later.js", "words.js", "offline.js", "embedmaker.js", "daysheet.js", "job-worker.js"]) assert.ok(!first.includes(name), name);
  for (const name of ["later.js", "words.js"]) assert.ok(later.includes(name), later.join(" "));
  // No file twice, under whatever address.
  const all = scripts(log.requests);
  assert.deepEqual([...new Set(all)].sort(), [...all].sort());
  await close();
});

/** Opens a part of "Everything else" and gives what its first "?" explains, and how many cars are offered. */
async function explained(page) {
  const part = page.locator("#parts-body > details").first();
  await part.locator("summary").first().click();
  const control = part.locator(".control:has(.ask)").first();
  await control.locator(".ask").click();
  const help = control.locator("p.help").last();
  await help.and(page.locator(":not(:empty)")).waitFor();
  return { says: await help.textContent(), cars: await page.locator(".setup-head option").count(), sliders: await part.locator("input[type=range]").count() };
}

test("words that are read when asked for come after the day; without them the controls work and say so", async () => {
  const opened = await openDayOf(site);
  const whole = await explained(opened.page);
  assert.match(whole.says, /^[A-Z].+\. Default from: .+\.$/);
  assert.ok(whole.cars > 3 && whole.sliders > 0);
  await opened.close();
  const { page, log, close } = await site.open({ path: null });
  await page.route("**/words.js", (route) => route.abort());
  await page.goto(site.url);
  await ready(page);
  const { says, cars, sliders } = await explained(page);
  assert.deepEqual([says, cars, sliders], ["This text could not be loaded.", 1, whole.sliders]);
  await slider(page, "air.temperature").press("ArrowRight");
  await settled(page);
  assert.equal(await page.locator("#problem").isVisible(), false);
  assert.deepEqual(log.errors, []);
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
