// What the page remembers: undo and redo, the link, the work kept in the browser, files, typical cars, and
// what is left of all that after a fault of the core.

import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { after, before, test } from "node:test";
import {
  box, cells, control, kept, openDayOf, quiet, ready, root, screenshot, settled, slider, startSite, text, type, withModules,
} from "./harness.mjs";

let site;
before(async () => (site = await startSite()));
after(() => site?.close());

const openDay = (options) => openDayOf(site, options);
const label = (page, id) => page.locator(`#${id}`).getAttribute("aria-label");

/** All that undo must bring back: the numbers shown, and the scenario as it is kept. */
async function everything(page) {
  await settled(page);
  const { scenario, baseline, source } = await kept(page) ?? {};
  return { cells: await cells(page), finding: await text(page, "#finding"), name: await text(page, "#day-name"), scenario, baseline, source };
}

async function undo(page) {
  await page.locator("#undo").click();
  await settled(page);
}
async function redo(page) {
  await page.locator("#redo").click();
  await settled(page);
}

test("undo and redo go through what was done, by buttons and by keys, and say what they did", async () => {
  const { page, log, close } = await openDay();
  assert.equal(await page.locator("#undo").isDisabled(), true, "nothing to undo at first");
  assert.equal(await page.locator("#redo").isDisabled(), true);
  await type(page, box(page, "cooler.ua"), "150");
  const first = await everything(page);
  await type(page, box(page, "air.temperature"), "101");
  const second = await everything(page);
  assert.notDeepEqual(second.cells, first.cells);

  assert.equal(await label(page, "undo"), "Undo: Air temperature");
  await undo(page);
  assert.deepEqual(await everything(page), first);
  assert.equal(await text(page, "#undone"), "Undone: Air temperature.");
  assert.equal(await box(page, "air.temperature").inputValue(), "88");
  assert.equal(await label(page, "redo"), "Redo: Air temperature");
  await redo(page);
  assert.deepEqual(await everything(page), second);
  assert.equal(await text(page, "#undone"), "Redone: Air temperature.");

  await page.locator("#day-name").click();
  for (const [keys, wanted] of [
    ["Control+z", first], ["Control+Shift+z", second], ["Control+z", first], ["Control+y", second], ["Meta+z", first], ["Meta+Shift+z", second],
  ]) {
    await page.keyboard.press(keys);
    assert.deepEqual(await everything(page), wanted, keys);
  }
  await undo(page);
  await undo(page);
  assert.equal(await page.locator("#undo").getAttribute("aria-disabled"), "true");
  assert.equal((await kept(page)).scenario.setup.cooler.ua, "110 W/K");
  await page.keyboard.press("Control+z");
  assert.equal((await kept(page)).scenario.setup.cooler.ua, "110 W/K", "there is nothing before the first");
  // A new change ends what could be redone.
  await type(page, box(page, "cooler.ua"), "130");
  assert.equal(await page.locator("#redo").getAttribute("aria-disabled"), "true");
  quiet(log);
  await close();
});

test("one drag of a slider is one entry, however many values it went through", async () => {
  const { page, log, close } = await openDay();
  const start = await page.evaluate(() => document.querySelector("#finding").textContent);
  const opened = await cells(page);
  await page.evaluate(() => {
    window.inputs = 0;
    document.addEventListener("input", () => (window.inputs += 1));
  });
  const drag = async (from, to) => {
    const rail = await slider(page, "cooler.ua").boundingBox();
    const y = rail.y + rail.height / 2;
    await page.mouse.move(rail.x + rail.width * from, y);
    await page.mouse.down();
    await page.mouse.move(rail.x + rail.width * to, y, { steps: 15 });
    await page.mouse.up();
    return everything(page);
  };
  const first = await drag(0.2, 0.5);
  const count = await page.evaluate(() => window.inputs);
  assert.ok(count > 5, `${count} values in one drag`);
  const second = await drag(0.5, 0.8);
  assert.notDeepEqual(second.cells, first.cells);
  await undo(page);
  assert.deepEqual(await everything(page), first);
  await undo(page);
  assert.deepEqual(await cells(page), opened);
  assert.equal(await text(page, "#finding"), start);
  assert.equal(await page.locator("#undo").getAttribute("aria-disabled"), "true", "two drags, two entries");
  quiet(log);
  await close();
});

test("typing in a box is one entry, keys in a row too, and the keys of undo leave half-typed text alone", async () => {
  const { page, log, close } = await openDay();
  const ua = async () => (await kept(page))?.scenario.setup.cooler.ua;
  await box(page, "cooler.ua").focus();
  await page.keyboard.press("Control+a");
  for (const key of "142") {
    await page.keyboard.press(key);
    await settled(page);
  }
  assert.equal(await ua(), "142 W/K");
  await page.keyboard.press("Control+z");
  await settled(page);
  assert.equal(await page.locator("#redo").isDisabled(), true, "the box undoes its own typing");
  assert.notEqual(await box(page, "cooler.ua").inputValue(), "142");
  await type(page, box(page, "cooler.ua"), "143");
  // The typing is done: now the keys undo the change, although the box has the focus.
  await page.keyboard.press("Control+z");
  await settled(page);
  assert.equal(await ua(), "110 W/K");
  assert.equal(await box(page, "cooler.ua").inputValue(), "110");

  await slider(page, "cooler.ua").focus();
  for (let i = 0; i < 4; i += 1) await page.keyboard.press("ArrowRight");
  await settled(page);
  assert.notEqual(await ua(), "110 W/K");
  await page.keyboard.press("Control+z");
  await settled(page);
  assert.equal(await ua(), "110 W/K", "four keys in a row are one entry");
  quiet(log);
  await close();
});

test("a button tapped again within a second goes on with its entry, and begins another one later", async () => {
  const { page, log, close } = await openDay();
  await page.locator("#day-list > summary").click();
  const more = page.getByRole("button", { name: "Warm-up: more" });
  const warmUp = async () => (await kept(page)).scenario.timeline[1].duration;
  for (let i = 0; i < 3; i += 1) await more.click();
  await settled(page);
  const three = await warmUp();
  await page.waitForTimeout(1100);
  await more.click();
  await settled(page);
  assert.notEqual(await warmUp(), three);
  await undo(page);
  assert.equal(await warmUp(), three);
  await undo(page);
  assert.equal(await warmUp(), "6 min");
  quiet(log);
  await close();
});

test("two hundred changes can be undone, and no more are kept", async () => {
  const { page, log, close } = await openDay();
  const range = slider(page, "cooler.ua");
  await range.evaluate((node) => {
    for (let i = 0; i < 230; i += 1) {
      node.dispatchEvent(new PointerEvent("pointerdown"));
      node.value = Number(node.min) + Number(node.step) * (i + 1);
      node.dispatchEvent(new Event("input", { bubbles: true }));
      node.dispatchEvent(new Event("change", { bubbles: true }));
    }
  });
  await settled(page);
  const steps = await page.evaluate(() => {
    let count = 0;
    while (document.querySelector("#undo").getAttribute("aria-disabled") !== "true" && count < 999) {
      document.dispatchEvent(new KeyboardEvent("keydown", { key: "z", ctrlKey: true, bubbles: true }));
      count += 1;
    }
    return count;
  });
  assert.equal(steps, 200);
  quiet(log);
  await close();
});

test("opening a day, starting over and taking back a mistake are entries too, over a reload", async () => {
  const { page, log, close } = await openDay();
  await type(page, box(page, "cooler.ua"), "150");
  const edited = await everything(page);
  await page.locator("#example").selectOption("dyno_bench_session");
  await settled(page);
  const bench = await everything(page);
  assert.equal(bench.name, "Dyno bench session");
  assert.equal(await text(page, "#note-text"), "Opened Dyno bench session.");
  await page.reload();
  await ready(page);
  assert.equal(await text(page, "#note-text"), "Opened Dyno bench session.");
  await page.locator("#note-undo").click();
  assert.deepEqual(await everything(page), edited);
  assert.equal(await page.locator("#note").isVisible(), false);
  assert.match(await text(page, "#key-launch-change"), /since opened/, "compared with the day as it was opened");
  await redo(page);
  assert.deepEqual(await everything(page), bench);
  await undo(page);

  await page.locator("#start-over").click();
  await settled(page);
  assert.equal((await kept(page)).scenario.setup.cooler.ua, "110 W/K");
  await undo(page);
  assert.deepEqual(await everything(page), edited);

  await type(page, box(page, "air.temperature"), "abc");
  assert.ok(await page.locator("#problem").isVisible());
  await undo(page);
  assert.equal(await page.locator("#problem").isVisible(), false);
  assert.deepEqual(await everything(page), edited);
  await redo(page);
  assert.ok(await page.locator("#problem").isVisible());
  await page.getByRole("button", { name: "Take the change back" }).click();
  assert.deepEqual(await everything(page), edited);
  assert.match(await text(page, "#note-text"), /taken back/);
  await page.reload();
  await ready(page);
  await page.locator("#note-undo").click();
  await settled(page);
  assert.equal((await kept(page)).scenario.setup.air.temperature, "abc");
  for (let i = 0; i < 2; i += 1) await undo(page);
  assert.equal((await kept(page)).scenario.setup.cooler.ua, "110 W/K", "back to the beginning over two reloads");
  assert.equal(await page.locator("#undo").getAttribute("aria-disabled"), "true");
  quiet(log);
  await close();
});

const address = (page) => page.evaluate(() => location.hash);
const linkWritten = (page, before = "") =>
  page.waitForFunction((was) => location.hash.startsWith("#s=") && location.hash !== was, before).then(() => address(page));

/** A fresh browser with an address of its own. */
async function openAt(hash) {
  const opened = await site.open({ path: hash });
  await ready(opened.page);
  await settled(opened.page);
  return opened;
}

/** A link with any content, made by the page's own module. */
async function linkTo(page, state) {
  await withModules(page);
  const folder = await page.evaluate(() => document.querySelector("script[type=module]").src);
  return page.evaluate(async ([main, json]) => {
    const { linkOf } = await import(new URL("link.js", main).href);
    return linkOf(JSON.parse(json));
  }, [folder, JSON.stringify(state)]);
}

test("a copied link opens the same day in a browser that has never seen it", async () => {
  const { page, context, log, close } = await openDay();
  await context.grantPermissions(["clipboard-read", "clipboard-write"]);
  assert.equal(await address(page), "", "an untouched example needs no link");
  await type(page, box(page, "cooler.ua"), "150");
  await type(page, box(page, "air.temperature"), "42 C");
  await page.locator("label[for=units-si]").click();
  await settled(page);
  await page.locator("[data-node=engine]").click();
  await page.locator("#copy-link").click();
  await page.waitForFunction(() => document.querySelector("#link-said").textContent === "Link copied.");
  const copied = await page.evaluate(() => navigator.clipboard.readText());
  // On a slow machine an address of before may still stand for a moment.
  await page.waitForFunction((hash) => location.hash === hash, new URL(copied).hash);
  const sent = await everything(page);
  const changed = await text(page, "#key-launch-change");
  assert.match(changed, /since opened/);

  const fresh = await openAt(copied);
  assert.deepEqual(await everything(fresh.page), sent);
  assert.ok(await fresh.page.locator("#units-si").isChecked());
  assert.equal(await fresh.page.locator("[data-node=engine]").getAttribute("aria-pressed"), await page.locator("[data-node=engine]").getAttribute("aria-pressed"));
  assert.equal(await text(fresh.page, "#key-launch-change"), changed, "the example is what is compared with");
  assert.ok(await control(fresh.page, "cooler.ua").evaluate((node) => node.classList.contains("changed")));
  assert.equal(await text(fresh.page, "#note-text"), "Opened from the link.");
  quiet(fresh.log);
  await fresh.close();
  quiet(log);
  await close();
});

test("every example with ten values edited fits into 1,500 characters; a day with long tables is not put into a link", async () => {
  const { page, log, close } = await openDay();
  for (const key of ["saturday_bracket_day", "test_and_tune_evening", "dyno_bench_session"]) {
    const scenario = JSON.parse(readFileSync(join(root, `scenarios/${key}.json`), "utf8"));
    const put = (part, name, value) => ((scenario.setup[part] ??= {})[name] = value);
    put("air", "temperature", "91.5 °F");
    put("air", "humidity", 0.63);
    put("cooler", "ua", "137 W/K");
    put("circulation", "flow", "1.85 gpm");
    put("converter", "shell_mass", "29.5 lb");
    put("transmission", "pan_volume", "6.25 qt");
    put("limits", "window_high", "172 °F");
    put("engine", "idle_speed", "1150 rpm");
    scenario.timeline[0].duration = "93 min";
    scenario.timeline[1].duration = "7.5 min";
    const hash = await linkTo(page, {
      scenario, source: key, units: "us",
      view: { hidden: ["gear_train", "engine"], range: { start_s: 12345.678, end_s: 23456.789 }, axis: "room", launch: 3, cursor_s: 15678.9 },
    });
    assert.ok(hash.length <= 1500, `${key}: ${hash.length}`);
    const fresh = await openAt(hash);
    assert.equal(await fresh.page.locator("#problem").isVisible(), false, await text(fresh.page, "#problem-text"));
    assert.deepEqual((await everything(fresh.page)).scenario, scenario);
    await fresh.close();
  }

  await type(page, box(page, "cooler.ua"), "150");
  await linkWritten(page);
  const part = page.locator("details.part", { hasText: "Engine" }).first();
  await part.locator("summary").first().click();
  const rows = Array.from({ length: 150 }, (_, i) => `${1500 + i * 40}, ${(300 + ((i * 7919) % 20011) / 100).toFixed(2)}`);
  const table = part.locator("textarea").first();
  await table.evaluate((node) => node.closest("details").open = true);
  await table.fill(`engine_speed (rpm), torque (lbf ft)\n${rows.join("\n")}`);
  await table.press("Tab");
  await settled(page);
  assert.equal(await page.locator("#problem").isVisible(), false, await text(page, "#problem-text"));
  await page.waitForFunction(() => document.querySelector("#link-long").textContent);
  assert.match(await text(page, "#link-long"), /too long for a link.*save it as a file/);
  assert.equal(await address(page), "", "an address that shows another day would be wrong");
  await page.locator("#copy-link").click();
  await page.waitForTimeout(200);
  assert.equal(await text(page, "#link-said"), "");
  // It is kept all the same.
  const { scenario } = await kept(page);
  await page.reload();
  await ready(page);
  assert.deepEqual((await kept(page)).scenario, scenario);
  assert.ok(JSON.stringify(scenario.setup.engine).includes("1540, "), "the table is in it");
  assert.equal(await page.locator("#undo").isDisabled(), false);
  await undo(page);
  await linkWritten(page);
  assert.equal(await text(page, "#link-long"), "");
  quiet(log);
  await close();
});

test("a damaged, cut-off, newer or refused link says which, keeps the day and the link, and ends with the next edit", async () => {
  const { page, log, close } = await openDay();
  await type(page, box(page, "cooler.ua"), "150");
  const link = await linkWritten(page);
  const scenario = (await kept(page)).scenario;
  const middle = Math.floor(link.length * 0.7);
  const swap = link[middle] === "A" ? "B" : "A";
  const state = (more) => ({ source: null, units: "us", view: {}, ...more });
  const bomb = await linkTo(page, state({ scenario: { ...scenario, note: "x".repeat(5_000_000) } }));
  assert.ok(bomb.length < 20_000, `${bomb.length} characters for 5 MB`);
  const wrongs = [
    [link.slice(0, middle) + swap + link.slice(middle + 1), /damaged: some of its characters/],
    [link.slice(0, middle), /cut off: \d+ of \d+ characters/],
    [link.slice(0, 12), /cut off/],
    ["#s=", /cut off/],
    [link.replace("#s=1.", "#s=2."), /newer version.*link format 2; this page reads 1/],
    [bomb, /unpacks to more than 300 kB/],
    [await linkTo(page, [1]), /./],
    [await linkTo(page, state({ scenario: { ...scenario, format: 1, timeline: 7 } })), /timeline/i],
    [await linkTo(page, state({ scenario: { ...scenario, setup: { cooler: { ua: "1e9 W/K" } } } })), /Cooler.*1500 W\/K/],
    [await linkTo(page, state({ scenario: { ...scenario, name: "<img src=x onerror=alert(1)>", nmae: 1 } })), /nmae/i],
    [await linkTo(page, state({})), /./],
  ];
  for (const [hash, says] of wrongs) {
    const before = await everything(page);
    await page.evaluate((wanted) => (location.hash = wanted), hash);
    await page.waitForFunction((wanted) => document.querySelector("#problem-link-text").value.endsWith(wanted) && !document.querySelector("#problem").hidden, hash);
    assert.match(await text(page, "#problem-title"), /link cannot be opened; the day on the page is unchanged/);
    assert.match(await text(page, "#problem-text"), says);
    assert.deepEqual(await everything(page), before);
    await page.locator("label[for=units-si]").click();
    await page.waitForTimeout(600);
    assert.equal(await address(page), hash, "the address is left alone");
    await page.locator("label[for=units-us]").click();

    // The same on a page that has never seen anything.
    const fresh = await openAt(hash);
    assert.match(await text(fresh.page, "#problem-text"), says);
    assert.equal(await text(fresh.page, "#day-name"), "Saturday bracket day");
    assert.equal(await address(fresh.page), hash);
    quiet(fresh.log);
    await fresh.close();
  }
  await page.locator("#problem-link-text").scrollIntoViewIfNeeded();
  await screenshot(page, "state-bad-link", { fullPage: false });
  await type(page, box(page, "cooler.ua"), "160");
  assert.equal(await page.locator("#problem").isVisible(), false);
  const now = await linkWritten(page, wrongs.at(-1)[0]);
  const fresh = await openAt(now);
  assert.equal((await everything(fresh.page)).scenario.setup.cooler.ua, "160 W/K");
  await fresh.close();
  quiet(log);
  await close();
});

test("a link goes before the kept work, which undo brings back; a reload goes on with work and history", async () => {
  const { page, log, close } = await openDay();
  await type(page, box(page, "cooler.ua"), "150");
  await linkWritten(page);
  const sent = await address(page);
  await type(page, box(page, "cooler.ua"), "170");
  const work = await everything(page);
  await linkWritten(page, sent);

  // A plain reload: no note, and the history is there.
  await page.reload();
  await ready(page);
  assert.deepEqual(await everything(page), work);
  assert.equal(await page.locator("#note").isVisible(), false);
  assert.equal(await label(page, "undo"), "Undo: Cooler size (UA)");

  // Another's link, followed from elsewhere.
  await page.goto("about:blank");
  await page.goto(site.url + sent);
  await ready(page);
  assert.equal(await text(page, "#note-text"), "Opened from the link.");
  assert.equal((await everything(page)).scenario.setup.cooler.ua, "150 W/K");
  await page.locator("#note-undo").click();
  assert.deepEqual(await everything(page), work);

  // A link pasted into the address of the open page.
  await page.waitForTimeout(600);
  const other = await linkTo(page, { scenario: JSON.parse(readFileSync(join(root, "scenarios/dyno_bench_session.json"), "utf8")), source: null, units: "us", view: {} });
  await page.evaluate((hash) => (location.hash = hash), other);
  await page.waitForFunction(() => document.querySelector("#day-name").textContent === "Dyno bench session");
  assert.equal(await page.locator("#invented").isVisible(), false, "without a known example it is nobody's");
  await undo(page);
  assert.deepEqual(await everything(page), work);

  // Jumping within the page leaves the day alone.
  await page.evaluate(() => (location.hash = "#safety"));
  await page.waitForTimeout(100);
  assert.deepEqual(await everything(page), work);
  assert.equal(await page.locator("#problem").isVisible(), false);
  quiet(log);
  await close();
});

test("while a change cannot be computed the link is that of the numbers shown, and a reload keeps what was typed", async () => {
  const { page, log, close } = await openDay();
  await type(page, box(page, "cooler.ua"), "150");
  const link = await linkWritten(page);
  const shown = await cells(page);
  await type(page, box(page, "air.temperature"), "abc");
  await page.waitForTimeout(600);
  assert.equal(await address(page), link);
  const fresh = await openAt(link);
  assert.deepEqual(await cells(fresh.page), shown);
  await fresh.close();
  await page.reload();
  await ready(page);
  assert.equal(await box(page, "air.temperature").inputValue(), "abc");
  assert.ok(await page.locator("#problem").isVisible());
  quiet(log);
  await close();
});

test("where the browser refuses the clipboard the link stands in a box, marked", async () => {
  const { page, close } = await openDay();
  await page.evaluate(() => Object.defineProperty(navigator, "clipboard", { value: { writeText: () => Promise.reject(new Error("no")) } }));
  await page.locator("#copy-link").click();
  await page.waitForFunction(() => /copy it yourself/.test(document.querySelector("#link-said").textContent));
  const marked = await page.evaluate(() => {
    const node = document.querySelector("#link-text");
    return document.activeElement === node && node.value.slice(node.selectionStart, node.selectionEnd);
  });
  const fresh = await openAt(marked);
  assert.deepEqual(await cells(fresh.page), await cells(page));
  await fresh.close();
  await close();
});

test("a day is shared where the browser can", async () => {
  const { page, close } = await site.open({ path: null });
  await page.addInitScript(() => {
    navigator.share = (what) => Promise.resolve((window.shared = what));
  });
  await page.goto(site.url);
  await ready(page);
  await page.locator("#share-link").click();
  await page.waitForFunction(() => window.shared);
  const { title, url } = await page.evaluate(() => window.shared);
  assert.equal(title, "Saturday bracket day");
  const fresh = await openAt(url);
  assert.deepEqual(await cells(fresh.page), await cells(page));
  await fresh.close();
  await close();
});

/** Drags files over the page and lets go, with real drag events; gives whether the hint was in sight meanwhile. */
async function drop(page, files) {
  const transfer = await page.evaluateHandle((list) => {
    const data = new DataTransfer();
    for (const { name, content } of list) data.items.add(new File([content], name, { type: "application/json" }));
    return data;
  }, files);
  const fire = (type) => page.dispatchEvent("main", type, { dataTransfer: transfer });
  await fire("dragenter");
  await fire("dragover");
  const hint = await page.locator("#drop-hint").isVisible();
  await fire("drop");
  return hint && !(await page.locator("#drop-hint").isVisible());
}

test("a file dropped anywhere on the page is opened; what is no file, no scenario or several files is not", async () => {
  const { page, log, close } = await openDay();
  const before = await everything(page);
  const scenario = JSON.parse(readFileSync(join(root, "scenarios/dyno_bench_session.json"), "utf8"));
  const mine = { name: "mine.json", content: JSON.stringify({ ...scenario, name: "Mine" }) };
  const problem = async (says) => {
    await page.waitForFunction((wanted) => new RegExp(wanted).test(document.querySelector("#problem").textContent), says);
    const now = await everything(page);
    assert.deepEqual([now.cells, now.name], [before.cells, before.name]);
  };
  assert.ok(await drop(page, [{ name: "photo.jpg", content: "\u0089PNG" }]));
  await problem("photo.jpg cannot be opened");
  assert.ok(await drop(page, [mine, mine]));
  await problem("2 files cannot be opened at once.*Drop one scenario file");
  assert.ok(await drop(page, [{ name: "big.json", content: "x".repeat(3_500_000) }]));
  await problem("big.json cannot be opened.*3.5 MB.*at most 2 MB");
  const words = await page.evaluateHandle(() => {
    const data = new DataTransfer();
    data.setData("text/plain", "words");
    return data;
  });
  await page.dispatchEvent("main", "dragover", { dataTransfer: words });
  assert.equal(await page.locator("#drop-hint").isVisible(), false, "dragged words are not for the page");
  assert.ok(await drop(page, [mine]));
  await page.waitForFunction(() => document.querySelector("#day-name").textContent === "Mine");
  assert.equal(await text(page, "#note-text"), "Opened mine.json.");
  await undo(page);
  assert.deepEqual((await everything(page)).cells, before.cells);
  quiet(log);
  await close();
});

for (const where of ["solve", "draw", "undo"]) {
  test(`a panic of the core (${where}) is said, keeps the inputs and the history, and the core works on`, async () => {
    const { page, close } = await site.open({ path: null });
    await page.route("**/core/stallheat.js*", async (route) => {
      const response = await route.fetch();
      const body = `${await response.text()}
        const trap = (kind) => {
          if (globalThis.trap !== kind) return;
          globalThis.trap = null;
          throw new WebAssembly.RuntimeError("unreachable");
        };
        const { simulate } = Day;
        Day.simulate = (text) => (trap("solve"), simulate(text));
        const { draw } = Day.prototype;
        Day.prototype.draw = function (...words) { trap("draw"); return draw.apply(this, words); };`;
      await route.fulfill({ response, body });
    });
    await page.goto(site.url);
    await ready(page);
    await type(page, box(page, "cooler.ua"), "150");
    const first = await everything(page);
    await type(page, box(page, "cooler.ua"), "160");
    const second = await everything(page);
    await page.evaluate((kind) => (globalThis.trap = kind), where === "draw" ? "draw" : "solve");
    if (where === "undo") await undo(page);
    else await type(page, box(page, "cooler.ua"), "170");
    await page.waitForFunction(() => /computation stopped/.test(document.querySelector("#problem-title").textContent));
    assert.match(await text(page, "#problem-text"), /fault of the program.*inputs are kept.*loaded anew/);
    assert.equal(await box(page, "cooler.ua").inputValue(), where === "undo" ? "150" : "170", "what was entered stays");
    // The fresh core: the same change is computed now, and undo goes all the way back.
    await page.waitForTimeout(300);
    if (where === "undo") await redo(page);
    else await undo(page);
    assert.deepEqual(await everything(page), second);
    assert.equal(await page.locator("#problem").isVisible(), false);
    await undo(page);
    assert.deepEqual(await everything(page), first);
    await type(page, box(page, "cooler.ua"), "170");
    assert.notDeepEqual((await everything(page)).cells, second.cells);
    await close();
  });
}

test("a typical car takes the place of the set-up, not of the weather, the window and the timeline, and is one entry", async () => {
  const { page, log, close } = await openDay();
  const before = await everything(page);
  const choose = page.getByLabel("Start from a typical car");
  const cars = await choose.locator("option").evaluateAll((options) => options.map(({ value }) => value).filter(Boolean));
  assert.ok(cars.length >= 5);
  await type(page, box(page, "air.temperature"), "91");
  const edited = await everything(page);
  for (const car of cars) {
    await choose.selectOption(car);
    const now = await everything(page);
    assert.equal(await page.locator("#problem").isVisible(), false, car);
    assert.match(await text(page, "#note-text"), /^Set up as: .*Invented, typical\.$/);
    assert.deepEqual(now.scenario.timeline, edited.scenario.timeline);
    assert.deepEqual(now.scenario.setup.air, edited.scenario.setup.air);
    assert.deepEqual(now.scenario.setup.limits, edited.scenario.setup.limits);
    assert.ok(now.scenario.setup.engine.peak_power);
    await undo(page);
    assert.deepEqual(await everything(page), edited, `${car} is undone at once`);
  }
  await choose.selectOption("street_three_speed");
  await settled(page);
  assert.notDeepEqual(await cells(page), before.cells);
  assert.match(await text(page, ".setup-head .count"), /^\d+ values changed$/);
  quiet(log);
  await close();
});

test("one value or all are reset to the day as it was opened, which is counted and can be undone", async () => {
  const { page, log, close } = await openDay();
  const opened = await everything(page);
  const all = page.locator("#reset-all");
  const count = () => text(page, ".setup-head .count");
  assert.deepEqual([await all.isDisabled(), await count()], [true, ""]);
  await type(page, box(page, "cooler.ua"), "150");
  assert.equal(await count(), "1 value changed");
  await type(page, box(page, "air.temperature"), "95");
  await page.locator("#day-list > summary").click();
  await page.getByRole("button", { name: "Warm-up: more" }).click();
  await settled(page);
  assert.equal(await count(), "3 values changed");
  const three = await everything(page);
  await control(page, "cooler.ua").getByRole("button", { name: /^Reset/ }).click();
  await settled(page);
  assert.equal(await count(), "2 values changed");
  assert.equal(await label(page, "undo"), "Undo: Reset Cooler size (UA)");
  await undo(page);
  assert.deepEqual(await everything(page), three);
  await all.click();
  await settled(page);
  const back = await everything(page);
  assert.deepEqual([back.cells, back.scenario], [opened.cells, JSON.parse(JSON.stringify(back.baseline))]);
  assert.equal(await count(), "");
  await undo(page);
  assert.deepEqual(await everything(page), three);
  quiet(log);
  await close();
});
