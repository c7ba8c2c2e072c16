// The answer that the page comes with: it stands there before any script has run, is what the page computes of the same
// day, is never shown where another day will be, and nothing moves when the page takes over.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { box, cells, findViolations, kept, ready, settled, startSite, text, type } from "./harness.mjs";

let site;
before(async () => (site = await startSite()));
after(() => site?.close());

const SLOW_NETWORK = { offline: false, latency: 150, downloadThroughput: 1.6e6 / 8, uploadThroughput: 0.75e6 / 8 };
async function slowed(page) {
  const devtools = await page.context().newCDPSession(page);
  await devtools.send("Network.enable");
  await devtools.send("Network.emulateNetworkConditions", SLOW_NETWORK);
}

const PLACES = ["#day-name", "#day-note", "#finding", "#finding-more", "#advice", ".keys dl", "#launches > table", "#example", ".history"];
/** The answer's elements, without what only scripts add. */
const answer = (page) => page.evaluate((places) => places.map((place) => {
  const copy = document.querySelector(place).cloneNode(true);
  for (const node of [copy, ...copy.querySelectorAll("*")]) for (const name of ["aria-label", "title"]) if (!/^Undo and/.test(node.getAttribute(name))) node.removeAttribute(name);
  return copy.outerHTML;
}), PLACES);

/** Notes what moves by itself, as the browser tells it. */
const shiftsNoted = (page) => page.addInitScript(() => {
  window.shifts = [];
  new PerformanceObserver((list) => {
    for (const { value, sources } of list.getEntries()) window.shifts.push({ value, nodes: sources.map(({ node }) => node?.id || node?.className || node?.nodeName) });
  }).observe({ type: "layout-shift", buffered: true });
});
// 0.1 is called good (web.dev, "Cumulative layout shift", from memory).
async function isCalm(page) {
  const shifts = await page.evaluate(() => window.shifts);
  assert.ok(shifts.reduce((sum, { value }) => sum + value, 0) < 0.01, JSON.stringify(shifts));
}

/** Notes what of the answer can be seen in each frame, from the first on. */
const filmed = (page) => page.addInitScript(() => {
  window.film = [];
  const seen = (node) => (node?.checkVisibility({ visibilityProperty: true }) ? node.textContent : "");
  const look = () => {
    const now = ["opening", "finding", "finding-more", "advice", "key-peak", "day-name", "launch-rows"].map((id) => seen(document.getElementById(id)));
    if (JSON.stringify(now) !== JSON.stringify(window.film.at(-1))) window.film.push(now);
    requestAnimationFrame(look);
  };
  requestAnimationFrame(look);
});

test("without scripts the page tells the day, and what it takes to change it", async () => {
  const { page, log, close } = await site.open({ javaScriptEnabled: false, width: 360, height: 740 });
  assert.match(await text(page, "#finding"), /^The pan .+\s°F.+\.$/);
  assert.match(await text(page, "#key-peak"), /^\d{3}\s°F$/);
  assert.ok(await page.locator("#launch-rows").isVisible());
  assert.match(await text(page, ".coming"), /need JavaScript.+computed when the page was built/);
  assert.ok(await page.locator("#safety").isVisible());
  assert.ok(await page.getByText("Example data, invented").isVisible());
  assert.deepEqual(log.errors, []);
  // Nothing is wider than the screen.
  const wide = await page.evaluate(() => document.documentElement.scrollWidth).catch(() => 360);
  assert.ok(wide <= 360, `${wide} px`);
  await close();
});

test("the answer that the page comes with is the one that it computes, letter by letter", async () => {
  const { page, close } = await site.open({ path: null });
  let go;
  const held = new Promise((done) => (go = done));
  await page.route(/\.wasm(\?.*)?$/, async (route) => {
    await held;
    return route.continue();
  });
  await page.goto(site.url);
  const came = await answer(page);
  assert.deepEqual(await findViolations(page), []);
  go();
  await ready(page);
  assert.deepEqual(came, await answer(page));
  assert.equal(came.length, PLACES.length);
  assert.equal((await cells(page)).length, 6);
  await close();
});

for (const width of [320, 360, 768, 1280]) {
  for (const scrolled of [0, 500, 1500]) {
    test(`nothing moves when the page takes over, ${width} px wide and scrolled by ${scrolled}`, async () => {
      const { page, log, close } = await site.open({ path: null, width, height: 740 });
      await slowed(page);
      await shiftsNoted(page);
      await page.goto(site.url);
      await page.waitForFunction(() => performance.getEntriesByName("day shown").length > 0);
      await page.evaluate((y) => scrollTo(0, y), scrolled);
      await ready(page);
      await settled(page);
      await isCalm(page);
      assert.deepEqual(log.errors, []);
      await close();
    });
  }
}

/** Everything that could be seen of the answer from the first frame on, until the day of `open` is shown. */
async function filmOf(context, path) {
  const page = await context.newPage();
  await slowed(page);
  await filmed(page);
  await shiftsNoted(page);
  await page.goto(new URL(path, site.url).href);
  await ready(page);
  await settled(page);
  await isCalm(page);
  const film = await page.evaluate(() => window.film);
  const last = film.at(-1);
  await page.close();
  return { film, last };
}

test("a kept day is the first that is seen", async () => {
  const { page, context, close } = await site.open();
  await ready(page);
  const example = await text(page, "#finding");
  await type(page, box(page, "cooler.ua"), "30");
  const own = await text(page, "#finding");
  assert.notEqual(own, example);
  await kept(page);
  await page.close();
  const { film, last } = await filmOf(context, "");
  assert.equal(last[1], own);
  // Before it nothing is seen of any day.
  const before = film.filter((frame) => JSON.stringify(frame) !== JSON.stringify(last)).map((frame) => frame.filter(Boolean));
  assert.deepEqual([...new Set(before.flat())].filter((said) => said !== "Opening the day…"), []);
  await close();
});

test("the day of a link is the first that is seen", async () => {
  const { page, close } = await site.open();
  await ready(page);
  await type(page, box(page, "cooler.ua"), "30");
  await page.waitForFunction(() => /^#s=/.test(location.hash));
  const { hash } = new URL(page.url());
  const own = await text(page, "#finding");
  await close();
  // Another browser.
  const other = await site.open({ path: null });
  const { film, last } = await filmOf(other.context, hash);
  assert.equal(last[1], own);
  const before = film.filter((frame) => frame[1] !== own).map((frame) => frame.filter(Boolean));
  assert.deepEqual([...new Set(before.flat())].filter((said) => !/^Opening the (day|link)…$/.test(said)), []);
  await other.close();
});

test("a kept day without launches shows none", async () => {
  const { page, close } = await site.open();
  await ready(page);
  await page.locator("#example").selectOption("dyno_bench_session");
  await settled(page);
  await kept(page);
  await page.reload();
  await ready(page);
  assert.match(await text(page, "#day-name"), /Dyno/);
  assert.equal(await page.locator("#launches").isVisible(), false);
  await close();
});

/** Opens the page in a browser that keeps a day of its own. */
async function withOwnDay(options) {
  const opened = await site.open(options);
  await ready(opened.page);
  await type(opened.page, box(opened.page, "cooler.ua"), "30");
  await kept(opened.page);
  await opened.page.close();
  return { ...opened, page: await opened.context.newPage() };
}
const visible = async (page, ids) => Object.fromEntries(await Promise.all(ids.map(async (id) => [id, await page.locator(`#${id}`).isVisible()])));

test("a page that cannot start says so: to somebody new beside the answer, to others without it", async () => {
  for (const own of [false, true]) {
    const { page, close } = own ? await withOwnDay({ width: 360, height: 740 }) : await site.open({ path: null, width: 360, height: 740 });
    await page.route(/\.wasm(\?.*)?$/, (route) => route.abort());
    await page.goto(site.url);
    await page.getByText("The page could not start.").waitFor();
    const shows = await visible(page, ["finding", "launches", "day-name", "key-peak", "advice"]);
    assert.deepEqual(new Set(Object.values(shows)), new Set([!own]), JSON.stringify(shows));
    const button = page.getByRole("button", { name: "Reload" });
    assert.ok((await button.boundingBox()).y < 740);
    // Nothing that leads nowhere.
    assert.deepEqual(await visible(page, ["undo", "example", "inputs"]), { undo: false, example: false, inputs: false });
    assert.equal(await page.getByRole("link", { name: "Change the day" }).count(), 0);
    assert.ok(await page.locator("#safety").isVisible());
    assert.deepEqual(await findViolations(page), []);
    await close();
  }
});

test("a script that does not arrive is said, in sight, whoever looks", async () => {
  for (const own of [false, true]) {
    for (const name of ["main", "common-1"]) {
      const { page, close } = own ? await withOwnDay({ width: 360, height: 740 }) : await site.open({ path: null, width: 360, height: 740 });
      await page.route(new RegExp(`/${name}\\.js$`), (route) => route.abort());
      await page.goto(site.url);
      const said = page.getByText("Not all of the page has arrived.");
      await said.waitFor();
      assert.ok((await said.boundingBox()).y < 600);
      assert.equal(await page.locator("#finding").isVisible(), !own);
      assert.deepEqual(await findViolations(page), []);
      await close();
    }
  }
});

test("while another day is on its way, that is said, and axe finds nothing", async () => {
  const { page, close } = await withOwnDay({ width: 360, height: 740 });
  await page.route(/\/main\.js$/, () => {});
  await page.goto(site.url, { waitUntil: "commit" });
  const said = page.getByText("Opening the day…");
  await said.waitFor();
  assert.ok((await said.boundingBox()).y < 400);
  assert.deepEqual(await findViolations(page), []);
  await close();
});

test("°C chosen before the page could hear it is what it shows", async () => {
  const { page, log, close } = await site.open({ path: null });
  let go;
  const held = new Promise((done) => (go = done));
  await page.route(/\.wasm(\?.*)?$/, async (route) => {
    await held;
    return route.continue();
  });
  await page.goto(site.url, { waitUntil: "commit" });
  await page.locator("label[for=units-si]").click();
  // Numbers of the other units are pale meanwhile.
  assert.equal(await page.locator(".keys dl").evaluate((node) => getComputedStyle(node).opacity), "0.4");
  go();
  await ready(page);
  assert.match(await text(page, "#key-peak"), /°C$/);
  assert.ok(await page.locator("#units-si").isChecked());
  assert.deepEqual(log.errors, []);
  await close();
});

test("a reload, coming back and a link to a part lead to the same place", async () => {
  for (const width of [360, 768, 1280]) {
    const { page, close } = await site.open({ width, height: 740 });
    await ready(page);
    const topOf = (id) => page.locator(`#${id}`).evaluate((node) => Math.round(node.getBoundingClientRect().top));
    for (const id of ["launches", "heat-body", "cutaway-body", "ledger-body"]) {
      await page.locator(`#${id}`).evaluate((node) => scrollBy(0, node.getBoundingClientRect().top - 140));
      const before = await topOf(id);
      await page.reload();
      await ready(page);
      await settled(page);
      const after = await topOf(id);
      assert.ok(Math.abs(after - before) <= 2, `${id} at ${width} px: ${before} → ${after}`);
    }
    const before = await topOf("ledger-body");
    await page.goto(new URL("lessons.html", site.url).href);
    await page.goBack();
    await ready(page);
    await settled(page);
    const back = await topOf("ledger-body");
    assert.ok(Math.abs(back - before) <= 2, `back at ${width} px: ${before} → ${back}`);
    await close();
  }
  const { page, close } = await site.open({ path: "#setup", width: 360, height: 740 });
  await ready(page);
  const { y } = await page.locator("#setup").boundingBox();
  assert.ok(y >= 0 && y < 300, `#setup at ${y}`);
  await close();
});

test("who has gone on by himself is left where he is", async () => {
  const { page, context, close } = await site.open({ width: 360, height: 740 });
  await ready(page);
  await page.locator("#ledger-body").evaluate((node) => node.scrollIntoView());
  let go;
  const held = new Promise((done) => (go = done));
  await context.route(/\.wasm(\?.*)?$/, async (route) => {
    await held;
    return route.continue();
  });
  await page.reload({ waitUntil: "commit" });
  await page.locator("#finding").waitFor();
  await page.mouse.move(180, 400);
  await page.mouse.wheel(0, 120);
  await page.waitForFunction(() => scrollY > 60);
  go();
  await ready(page);
  assert.ok((await page.evaluate(() => scrollY)) < 400);
  await close();
});
