// Lessons: each played through (guess, run, explain, try); its numbers held against the command line; what it tells held
// against the model; texts held against a reading level. The teacher's page lists them all.

import assert from "node:assert/strict";
import { execFileSync } from "node:child_process";
import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { after, before, test } from "node:test";
import { fleschKincaid } from "flesch-kincaid";
import { syllable } from "syllable";
import { axeSource, findProgram as binary, quiet, ready, root, startSite } from "./harness.mjs";
import { scenarioOf } from "../../www/lessondata.js";

const folder = join(root, "www/lessons");
const read = (name) => JSON.parse(readFileSync(join(folder, name), "utf8"));
const english = read("en.json");
const { setup, lessons: days } = read("days.json");
const lessons = days.map((day) => ({ ...day, setup, text: english.lessons[day.slug] }));

let site;
before(async () => (site = await startSite()));
after(() => site?.close());

const shown = (page, hash) => page.waitForFunction((hash) => document.documentElement.dataset.shown === hash && document.querySelector("#lesson h1"), hash);
async function open(path, options = {}) {
  const opened = await site.open({ path, ...options });
  await shown(opened.page, path.includes("#") ? path.slice(path.indexOf("#")) : "#");
  return opened;
}
const to = async (page, name, hash) => {
  await page.getByRole("link", { name, exact: true }).click();
  await shown(page, hash);
};

/** A day by the command line, as JSON in SI. */
const computed = (lesson, changes = []) => JSON.parse(execFileSync(binary(), ["simulate", "--json", "-"], { input: JSON.stringify(scenarioOf(lesson, changes)), encoding: "utf8", maxBuffer: 1e9 }));
/** Its temperatures, °F, as rows of the CSV: { time_s, node_F … }. */
function table(lesson, changes = []) {
  const text = execFileSync(binary(), ["simulate", "--csv", "-"], { input: JSON.stringify(scenarioOf(lesson, changes)), encoding: "utf8", maxBuffer: 1e9 });
  const [head, ...lines] = text.trim().split("\n").map((line) => line.split(","));
  return lines.map((line) => Object.fromEntries(head.map((name, at) => [name, Number(line[at])])));
}
function at(rows, node, time_s) {
  const next = Math.max(1, rows.findIndex((row) => row.time_s >= time_s - 1e-6));
  const [a, b] = [rows[next - 1], rows[next]];
  const name = `${node}_F`;
  return a[name] + ((b[name] - a[name]) * (time_s - a.time_s)) / (b.time_s - a.time_s || 1);
}
const lesson = (slug) => lessons.find((one) => one.slug === slug);

for (const one of lessons) {
  test(`${one.slug}: guess, run, explanation, try`, async () => {
    const { page, log, close } = await open(`lessons.html#${one.slug}`);
    const flash = one.guess.kind === "flash";
    const guess = flash ? 5200 : 222;
    assert.ok((await page.locator(".story").textContent()).split(/\s+/).length <= 120);
    await page.locator("input[type=number]").fill(String(guess));
    await to(page, english.page.run, `#${one.slug}/2`);
    const body = await page.locator("#lesson").textContent();
    assert.doesNotMatch(body, /[{}]|NaN|undefined/);
    assert.match(await page.locator(".guess-name").textContent(), flash ? /5,200 rpm/ : /222 °F/);
    const [, ran] = (await page.locator(".finding").textContent()).match(/gave ([\d,]+)/);
    const number = Number(ran.replace(",", ""));
    if (flash) {
      const report = execFileSync(binary(), ["simulate", "-"], { input: JSON.stringify(scenarioOf(one)), encoding: "utf8" });
      const launch = report.split("\n").filter((line) => /°F {2,}\d+ °F/.test(line))[one.guess.launch];
      assert.ok(launch.includes(` ${number} `), `${number} in ${launch}`);
    } else {
      const rows = table(one);
      const end_s = rows.at(-1).time_s;
      const cli = at(rows, one.guess.node, one.guess.time_s ?? end_s - one.guess.from_end_s);
      // The page rounds to whole degrees; the CSV is rounded too.
      assert.ok(Math.abs(number - cli) <= 0.51, `${number} against ${cli}`);
    }
    // In °C the same value and the same guess.
    await page.locator("label[for=units-si]").click();
    await page.waitForFunction(() => !document.querySelector("#lesson .finding").textContent.includes("°F"));
    if (!flash) {
      const [, celsius] = (await page.locator(".finding").textContent()).match(/gave (\d+) °C/);
      assert.ok(Math.abs(Number(celsius) - (number - 32) / 1.8) <= 0.8);
      assert.match(await page.locator(".guess-name").textContent(), /106 °C/);
    }
    // The guess outlives a reload.
    await page.reload();
    await shown(page, `#${one.slug}/2`);
    assert.match(await page.locator(".guess-name").textContent(), flash ? /5,200 rpm/ : /106 °C/);
    await to(page, english.page.try, `#${one.slug}/3`);
    const before = await page.locator(".finding").textContent();
    const texts = new Set([before]);
    for (const option of ["told", ...one.tries.map(({ key }) => key)]) {
      await page.locator("select").selectOption(option);
      texts.add(await page.locator(".finding").textContent());
    }
    assert.ok(texts.size > 1, "the switch shows an effect");
    const href = await page.getByRole("link", { name: english.page.open }).getAttribute("href");
    assert.match(href, /^index\.html#s=1\./);
    await to(page, english.page.back, `#${one.slug}/2`);
    quiet(log);
    await close();
  });
}

test("skipped, the lesson goes on without a guess; the list shows what is done", async () => {
  const { page, log, close } = await open("lessons.html");
  assert.equal(await page.locator(".lesson-list li").count(), 7);
  await to(page, lessons[0].text.title, `#${lessons[0].slug}`);
  await to(page, english.page.skip, `#${lessons[0].slug}/2`);
  assert.match(await page.locator(".finding").textContent(), /No guess made/);
  await page.goto(`${site.url}lessons.html`);
  await shown(page, "#");
  assert.match(await page.locator(".lesson-list li").first().textContent(), /done/);
  quiet(log);
  await close();
});

test("the guess is dragged by mouse, set by touch, and by keys alone", async () => {
  const hash = `lessons.html#${lessons[0].slug}`;
  {
    const { page, close } = await open(hash);
    const chart = await page.locator(".lesson-chart").boundingBox();
    await page.mouse.move(chart.x + 150, chart.y + 120);
    await page.mouse.down();
    await page.mouse.move(chart.x + 150, chart.y + 60, { steps: 4 });
    await page.mouse.up();
    const high = Number(await page.locator("input[type=number]").inputValue());
    await page.mouse.click(chart.x + 150, chart.y + 200);
    const low = Number(await page.locator("input[type=number]").inputValue());
    assert.ok(high > low + 100, `${high} above ${low}`);
    await close();
  }
  {
    const { page, close } = await open(hash, { width: 360, height: 740, hasTouch: true, isMobile: true });
    const chart = await page.locator(".lesson-chart").boundingBox();
    await page.touchscreen.tap(chart.x + 150, chart.y + 60);
    const tapped = Number(await page.locator("input[type=number]").inputValue());
    assert.ok(tapped > 250);
    // There is no line before the tap: what is said must begin with it. Then the finger drags the line.
    assert.match(await page.locator("#lesson").textContent(), /Tap in the chart and drag the dashed line/);
    const grip = await page.locator(".grip").boundingBox();
    const touch = await page.context().newCDPSession(page);
    const [x, y] = [grip.x + 100, grip.y + grip.height / 2];
    const send = (type, ...touchPoints) => touch.send("Input.dispatchTouchEvent", { type, touchPoints });
    await send("touchStart", { x, y });
    for (let down = 10; down <= 60; down += 10) await send("touchMove", { x, y: y + down });
    await send("touchEnd");
    const dragged = Number(await page.locator("input[type=number]").inputValue());
    assert.ok(dragged < tapped - 50, `${dragged} below ${tapped}`);
    await page.getByRole("link", { name: english.page.run, exact: true }).tap();
    await shown(page, `#${lessons[0].slug}/2`);
    await close();
  }
  {
    const { page, close } = await open(hash);
    await page.locator("input[type=range]").focus();
    const before = Number(await page.locator("input[type=range]").inputValue());
    await page.keyboard.press("ArrowRight");
    assert.equal(Number(await page.locator("input[type=number]").inputValue()), before + 1);
    await page.keyboard.press("Tab");
    await page.keyboard.press("Tab");
    await page.keyboard.press("Enter");
    await shown(page, `#${lessons[0].slug}/2`);
    await close();
  }
});

test("axe finds nothing, nothing is wider than the screen, light and dark", async () => {
  for (const [width, colorScheme] of [[320, "dark"], [360, "light"], [1280, "dark"]]) {
    // Every step of every lesson at 360 px; of one lesson at the other widths.
    const played = width === 360 ? lessons : [lessons[5]];
    const steps = played.flatMap(({ slug }) => [1, 2, 3].map((step) => `lessons.html#${slug}/${step}`));
    for (const path of ["lessons.html", ...steps, "teach.html"]) {
      const opened = path === "teach.html" ? await site.open({ path, width, colorScheme }) : await open(path, { width, colorScheme });
      const { page, close } = opened;
      if (path === "teach.html") await page.waitForSelector(".aim");
      await page.evaluate(axeSource);
      const found = await page.evaluate(() => globalThis.axe.run(document, { rules: { "target-size": { enabled: true } } }));
      assert.deepEqual(found.violations.map(({ id, nodes }) => [id, nodes.map(({ html }) => html)]), [], `${path} ${width}`);
      assert.ok(await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth), `${path} ${width}`);
      quiet(opened.log);
      await close();
    }
  }
});

test("every lesson by keys alone: guessed, run, tried, and on to the next", async () => {
  const { page, log, close } = await open(`lessons.html#${lessons[0].slug}/1`, { width: 1280 });
  const press = async (name, hash) => {
    const target = page.getByRole("link", { name, exact: true });
    // Reached by the tabulator, as somebody without a mouse would.
    for (let taps = 0; !(await target.evaluate((node) => node === document.activeElement)); taps += 1) {
      assert.ok(taps < 40, name);
      await page.keyboard.press("Tab");
    }
    await page.keyboard.press("Enter");
    await shown(page, hash);
  };
  for (const [at, lesson] of lessons.entries()) {
    await page.locator("input[type=range]").focus();
    await page.keyboard.press("ArrowRight");
    await press(english.page.run, `#${lesson.slug}/2`);
    assert.match(await page.locator(".finding").first().textContent(), /^Your guess was/);
    await press(english.page.try, `#${lesson.slug}/3`);
    const next = lessons[at + 1];
    if (next) await press(english.page.next, `#${next.slug}`);
  }
  quiet(log);
  await close();
});

test("a guess out of range is said to be, an emptied box is none, and a wrong address is named", async () => {
  const { page, log, close } = await open(`lessons.html#${lessons[0].slug}/1`, { width: 360 });
  const box = page.locator("input[type=number]");
  await box.fill("99999");
  await box.press("Tab");
  assert.match(await page.locator(".field-error").textContent(), /^A guess can go from \d+ °F to \d+ °F\.$/);
  await box.fill("200");
  await box.press("Tab");
  assert.equal(await page.locator(".field-error").textContent(), "");
  await box.fill("");
  await box.press("Tab");
  await to(page, english.page.run, `#${lessons[0].slug}/2`);
  assert.match(await page.locator(".finding").first().textContent(), /^No guess made/);
  for (const [hash, first] of [["#nonsense", english.page.unknown], ["#%", english.page.unknown], [`#${lessons[0].slug}/9`, null]]) {
    await page.evaluate((to) => (location.hash = to), hash);
    await shown(page, hash);
    if (first) assert.equal(await page.locator("#lesson .problem").textContent(), first);
    else assert.ok(await page.locator(".guess-row").isVisible(), "the first step");
  }
  quiet(log);
  await close();
});

test("a lesson's day opens on the page", async () => {
  const { page, log, close } = await open(`lessons.html#${lessons[3].slug}/3`);
  await page.getByRole("link", { name: english.page.open }).click();
  await ready(page);
  assert.equal(await page.locator("#day-name").textContent(), lessons[3].text.title);
  assert.ok(await page.locator("#problem").isHidden());
  quiet(log);
  await close();
});

test("the teacher's page lists every lesson with its aim", async () => {
  const { page, log, close } = await site.open({ path: "teach.html" });
  await page.waitForSelector(".aim");
  const body = await page.locator("#teach").textContent();
  for (const { text } of lessons) for (const part of [text.title, text.aim, text.say, text.wrong]) assert.ok(body.includes(part), part);
  quiet(log);
  await close();
});

/** All texts of an object by their path. */
const texts = (json, path = "") => (typeof json === "string" ? [[path, json]] : Object.entries(json).flatMap(([key, part]) => texts(part, `${path}.${key}`)));

// Kincaid et al., Naval Technical Training Command Research Branch Report 8-75 (1975): 0.39·words/sentences +
// 11.8·syllables/words − 15.59. Of a few words it says nothing, so that only blocks of ten words and more are held to it.
test("texts are at grade 8 or below", () => {
  const hard = [];
  for (const [path, text] of texts(english.lessons)) {
    const plain = text.replace(/\{\w+\}/g, "ten");
    const words = plain.match(/[\p{L}\d][\p{L}\d,.'’-]*/gu) ?? [];
    if (words.length < 10) continue;
    const sentence = plain.split(/[.!?:](?:\s|$)/).filter((part) => part.trim()).length;
    const grade = fleschKincaid({ sentence, word: words.length, syllable: words.reduce((sum, word) => sum + Math.max(1, syllable(word)), 0) });
    if (!(grade <= 8)) hard.push(`${path}: ${grade.toFixed(1)}`);
  }
  assert.deepEqual(hard, []);
});

test("every language has the keys of the English one, and each placeholder a value", () => {
  const keys = (json) => texts(json).map(([path]) => path).sort();
  for (const name of readdirSync(folder).filter((name) => name !== "days.json")) assert.deepEqual(keys(read(name)), keys(english), name);
  for (const { slug, values, text, tries } of lessons) {
    for (const part of [text.story, text.explain]) for (const [, name] of part.matchAll(/\{(\w+)\}/g)) assert.ok(values[name], `${slug}: ${name}`);
    assert.deepEqual(Object.keys(text.tries), tries.map(({ key }) => key));
  }
});

// What the lessons tell, held against the model. Where no source stands beside it the fact is common practice, no source.
test("what is told holds in the model", () => {
  const hold = table(lesson("where-heat-is-made"));
  assert.ok(at(hold, "converter_fluid", 625) - at(hold, "converter_fluid", 620) > 10 * (at(hold, "pan_fluid", 625) - at(hold, "pan_fluid", 620)));
  assert.ok(at(hold, "converter_shell", 625) > at(hold, "pan_fluid", 625) + 50);
  const after = hold.filter((row) => row.time_s > 625);
  const peak = after.reduce((best, row) => (row.pan_fluid_F > best.pan_fluid_F ? row : best));
  assert.ok(peak.time_s - 625 > 60, `the pan peaks ${peak.time_s - 625} s after the hold`);

  const last = (slug, changes) => table(lesson(slug), changes).at(-1);
  const still = last("shut-off");
  // Hotter than the pan, and above the 60 °C of the cautions.
  assert.ok(still.converter_shell_F > still.pan_fluid_F && still.converter_shell_F > 140);
  const fan = last("shut-off", lesson("shut-off").tries[0].set);
  assert.ok(Math.abs(fan.converter_shell_F - still.converter_shell_F) < 3, "without flow the fan does little");

  const pan = last("pan-or-converter");
  for (const { set } of lesson("pan-or-converter").tries) assert.ok(last("pan-or-converter", set).converter_shell_F < pan.converter_shell_F - 25);
  assert.ok(pan.pan_fluid_F < pan.converter_shell_F - 25);

  const idle = last("idle-or-shut-down");
  const [off, gear] = lesson("idle-or-shut-down").tries.map(({ set }) => last("idle-or-shut-down", set));
  assert.ok(idle.pan_fluid_F > off.pan_fluid_F + 5 && Math.abs(idle.converter_shell_F - off.converter_shell_F) < 3);
  assert.ok(gear.pan_fluid_F > idle.pan_fluid_F + 30);

  // Power at stall goes with the cube of speed (SAE J643's K, from memory): (4200/3330)³ = 2.006.
  const twice = lesson("twice-the-power");
  const rise = (rows) => at(rows, "converter_fluid", 624) - at(rows, "converter_fluid", 620);
  const ratio = rise(table(twice)) / rise(table(twice, twice.reference));
  assert.ok(ratio > 1.7 && ratio < 2.006, `rise ${ratio} times`);

  const tree = computed(lesson("what-the-tree-sees"));
  const flash = JSON.stringify(tree).match(/"flash[^"]*":\s*[\d.]+/g)?.map((text) => Number(text.split(":")[1])) ?? [];
  assert.ok(flash.length >= 3 && flash[1] > flash[0], `flash speeds ${flash}`);
});
