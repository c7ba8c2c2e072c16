// The chain from Rust to the browser holds: the core loads, answers, and the page stays quiet and at home.

import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { after, before, test } from "node:test";
import { ready, root, screenshot, settled, startSite, strangers } from "./harness.mjs";

let site;
before(async () => (site = await startSite()));
after(() => site?.close());

const version = readFileSync(join(root, "Cargo.toml"), "utf8").match(/^version = "(.+)"$/m)[1];

test("the page shows the version that the core tells, and says nothing else", async () => {
  const { page, log, close } = await site.open();
  await page.waitForFunction(() => document.querySelector("#version")?.textContent);
  assert.equal(await page.textContent("#version"), version);
  assert.deepEqual([log.console, log.errors, log.failed], [[], [], []]);
  assert.ok(log.requests.some((address) => address.endsWith(".wasm")));
  assert.deepEqual(strangers(log, site.url), []);
  await close();
});

test("it fits a phone in the dark", async () => {
  const { page, log, close } = await site.open({
    width: 320, height: 640, colorScheme: "dark", deviceScaleFactor: 2, hasTouch: true, isMobile: true,
  });
  await page.waitForFunction(() => document.querySelector("#version")?.textContent);
  const overflow = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
  assert.ok(overflow <= 0, `${overflow} px too wide`);
  assert.deepEqual([log.console, log.errors, log.failed], [[], [], []]);
  await screenshot(page, "smoke-320-dark");
  await close();
});

test("at no width of a phone is anything wider than the screen", async () => {
  const { page, close } = await site.open({ width: 320, height: 640 });
  await ready(page);
  for (const units of ["us", "si"]) {
    await page.locator(`label[for=units-${units}]`).click();
    await settled(page);
    const wide = [];
    for (let width = 320; width <= 480; width += 1) {
      await page.setViewportSize({ width, height: 640 });
      const across = await page.evaluate(() => document.documentElement.scrollWidth);
      if (across > width) wide.push([width, across]);
    }
    assert.deepEqual(wide, [], units);
  }
  await close();
});
