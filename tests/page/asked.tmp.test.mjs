import { test, before, after } from "node:test";
import { startSite, ready } from "./harness.mjs";
let site; before(async () => { site = await startSite(); }); after(() => site.close());
for (const [width, height] of [[1280, 900],[360, 740],[768,1000]]) test(`press ${width}`, async () => {
  const { page, close } = await site.open({ width, height, path: null });
  page.on("console", (m) => console.log(width, m.text()));
  await page.goto(site.url);
  await page.waitForTimeout(2500);
  await close();
});
