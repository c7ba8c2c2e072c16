// Pictures: the speeds of a pass with its cursor, chooser and table, and the pictures as files.

import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { after, before, test } from "node:test";
import { axeSource, findViolations, openDayOf, quiet, screenshot, settled, startSite, text, withModules } from "./harness.mjs";

let site;
before(async () => (site = await startSite()));
after(() => site?.close());

const openDay = (options) => openDayOf(site, options);
const drawn = (page) => page.evaluate(() => document.querySelector("#pass-canvas").toDataURL());
const course = (page) => page.locator("#pass-course-table tbody tr").evaluateAll((rows) =>
  rows.map((row) => [...row.cells].map((cell) => cell.textContent)));

/** How many pixels of a canvas are painted at all, and how many in colours that are not grey. */
const painted = (page) => page.evaluate(() => {
  const canvas = document.querySelector("#pass-canvas");
  const { data } = canvas.getContext("2d").getImageData(0, 0, canvas.width, canvas.height);
  let [any, coloured] = [0, 0];
  for (let i = 0; i < data.length; i += 4) {
    if (data[i + 3] < 128) continue;
    any += 1;
    if (Math.max(data[i], data[i + 1], data[i + 2]) - Math.min(data[i], data[i + 1], data[i + 2]) > 60) coloured += 1;
  }
  return { any, coloured, width: canvas.width, box: canvas.getBoundingClientRect().width };
});

test("the picture of a pass is drawn in the screen's pixels and says what its table says", async () => {
  for (const [width, colorScheme] of [[360, "light"], [1280, "dark"]]) {
    const { page, log, close } = await openDay({ width, colorScheme, deviceScaleFactor: 2 });
    const { any, coloured, width: pixels, box } = await painted(page);
    assert.ok(coloured > 1500 && any > coloured, `${coloured} of ${any}`);
    assert.equal(pixels, Math.round(box) * 2);
    await page.locator("#pass-course-table > summary").click();
    const rows = await course(page);
    assert.equal(rows[0][0], "Launch");
    const finish = rows.at(-1);
    assert.match(finish[0], /^Finish, /);
    // The same elapsed time and speed as in the table of passes.
    await page.locator("#launch-more > summary").click();
    await settled(page);
    const passes = await page.locator("#pass-rows tr").last().textContent();
    assert.ok(passes.includes(finish[1]) && passes.includes(finish.at(-1)), `${passes}: ${finish}`);
    assert.ok((await text(page, "#pass-course-says")).includes(`ET ${finish[1]} s at ${finish.at(-1)}`));
    assert.ok(await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth), "no sideways scroll");
    await page.locator("#pass-picture").scrollIntoViewIfNeeded();
    await screenshot(page, `pass-picture-${width}-${colorScheme}`, { fullPage: false });
    quiet(log);
    await close();
  }
});

test("out of sight the picture of a pass is not drawn of another day, whatever asks for it", async () => {
  const { page, log, close } = await openDay();
  await page.locator("#pass-picture").scrollIntoViewIfNeeded();
  await settled(page);
  await page.evaluate(async () => {
    scrollTo(0, 0);
    const frame = () => new Promise(requestAnimationFrame);
    await frame();
    await frame();
    // A day without launches; before the picture hears of it, it gets another size.
    const choose = document.querySelector("#example");
    choose.value = "dyno_bench_session";
    choose.dispatchEvent(new Event("change", { bubbles: true }));
    document.querySelector("#pass-picture .plot").style.width = "300px";
    await frame();
    await frame();
  });
  await settled(page);
  assert.ok(await page.locator("#pass-picture").isHidden());
  quiet(log);
  await close();
});

test("the chosen launch is one for both pictures of a pass", async () => {
  const { page, close } = await openDay();
  await page.locator("#pass-picture select").selectOption("0");
  await settled(page);
  const before = await drawn(page);
  await page.locator("#pass-picture select").selectOption("3");
  await settled(page);
  assert.equal(await page.locator("#pass-launch").inputValue(), "3");
  assert.notEqual(await drawn(page), before);
  await page.locator("#pass-launch").selectOption("0");
  await settled(page);
  assert.equal(await page.locator("#pass-picture select").inputValue(), "0");
  assert.equal(await drawn(page), before);
  await close();
});

test("the cursor follows over the picture and by keys, and nothing is drawn anew for it", async () => {
  const { page, close } = await openDay();
  const surface = page.locator("#pass-picture .pass-surface");
  await surface.scrollIntoViewIfNeeded();
  const box = await surface.boundingBox();
  const now = () => text(page, "#pass-picture .pass-now");
  const before = await drawn(page);
  await page.mouse.move(box.x + box.width * 0.2, box.y + 40);
  await settled(page);
  const early = await now();
  await page.mouse.move(box.x + box.width * 0.7, box.y + 40);
  await settled(page);
  const late = await now();
  const speed = (said) => Number(said.match(/([\d.]+) mph/)[1]);
  assert.ok(speed(late) > speed(early) + 20, `${early} / ${late}`);
  assert.ok(await page.locator("#pass-picture .pass-line").isVisible());
  await surface.focus();
  await page.keyboard.press("End");
  await settled(page);
  const rows = await (async () => {
    await page.locator("#pass-course-table > summary").click();
    return course(page);
  })();
  assert.ok(Math.abs(speed(await now()) - Number(rows.at(-1).at(-1))) < 0.2);
  await surface.focus(); // the table took it
  await page.keyboard.press("Home");
  await settled(page);
  assert.match(await now(), /^0\.00 s · gear 1/);
  // Away from the pass the line is gone.
  // Pressed without the mouse, which would move the cursor on its way over the day.
  await page.evaluate(() => document.querySelector("#player [data-play=previous]").click());
  await settled(page);
  assert.ok(!(await page.locator("#pass-picture .pass-line").isVisible()));
  assert.equal(await drawn(page), before);
  await close();
});

test("a logged pass is said to be logged, with the means of the log", async () => {
  const { page, close } = await openDay();
  await page.evaluate(() => {
    const day = {
      format: 1, name: "Logged", timeline: [
        { event: "idle", duration: "2 min" },
        { event: "pass", duration: "10.2 s", engine_speed: "6500 rpm", input_power: "490 hp", slip: 0.17, road_speed: "88 mph", shifts: 1 },
      ],
    };
    const given = new DataTransfer();
    given.items.add(new File([JSON.stringify(day)], "logged.json", { type: "application/json" }));
    const input = document.querySelector("#file");
    input.files = given.files;
    input.dispatchEvent(new Event("change", { bubbles: true }));
  });
  await page.waitForFunction(() => document.querySelector("#day-name").textContent === "Logged");
  await settled(page);
  assert.match(await text(page, "#pass-course-says"), /logged, not computed.*6500 rpm, 490 hp.*17\.0 % slip and 88 mph/);
  assert.ok(!(await page.locator("#pass-canvas").isVisible()));
  await close();
});

async function saved(page, picture, button) {
  await page.locator("#save-pictures select").selectOption(picture);
  const [download] = await Promise.all([page.waitForEvent("download"), page.locator(button).click()]);
  return { name: download.suggestedFilename(), bytes: readFileSync(await download.path()) };
}

test("each picture is saved as a PNG of twice its size and as SVG, named by the day shown", async () => {
  const { page, log, close } = await openDay({ colorScheme: "dark" });
  for (const picture of ["temperatures", "heat", "pass", "charge"]) {
    const png = await saved(page, picture, "#save-png");
    assert.equal(png.name, `saturday-bracket-day.${picture}.png`);
    assert.deepEqual([...png.bytes.subarray(0, 8)], [137, 80, 78, 71, 13, 10, 26, 10]);
    // PNG (ISO/IEC 15948), 11.2.2: width and height are the first words of the header chunk.
    assert.deepEqual([png.bytes.readUInt32BE(16), png.bytes.readUInt32BE(20)], [2000, 1000]);
    const read = await page.evaluate(async (data) => {
      const image = new Image();
      image.src = `data:image/png;base64,${data}`;
      await image.decode();
      const canvas = document.createElement("canvas");
      [canvas.width, canvas.height] = [image.width, image.height];
      const context = canvas.getContext("2d");
      context.drawImage(image, 0, 0);
      const pixels = context.getImageData(0, 0, canvas.width, canvas.height).data;
      const colours = new Set();
      for (let i = 0; i < pixels.length; i += 4) colours.add((pixels[i] << 16) | (pixels[i + 1] << 8) | pixels[i + 2]);
      return { corner: [...pixels.subarray(0, 4)], colours: colours.size };
    }, png.bytes.toString("base64"));
    assert.deepEqual(read.corner, [255, 255, 255, 255]); // paper, on a dark page too
    assert.ok(read.colours > 50, `${read.colours} colours`);
    const svg = await saved(page, picture, "#save-svg");
    assert.equal(svg.name, `saturday-bracket-day.${picture}.svg`);
    const drawing = await page.evaluate((markup) => {
      const parsed = new DOMParser().parseFromString(markup, "image/svg+xml");
      return {
        broken: parsed.querySelector("parsererror")?.textContent ?? null,
        title: parsed.querySelector("title")?.textContent,
        described: parsed.querySelector("desc")?.textContent.length,
        shapes: parsed.querySelectorAll("polyline, polygon").length,
        fonts: [...new Set([...parsed.querySelectorAll("[font-family]")].map((node) => node.getAttribute("font-family")))],
      };
    }, svg.bytes.toString("utf8"));
    assert.equal(drawing.broken, null);
    assert.match(drawing.title, /^Saturday bracket day: /);
    assert.ok(drawing.described > 20 && drawing.shapes > 20, JSON.stringify(drawing));
    assert.deepEqual(drawing.fonts, ["sans-serif"]);
  }
  quiet(log);
  await close();
});

test("a picture that brings its own table stands on the page with both, under the page's cursor", async () => {
  for (const [width, colorScheme] of [[320, "light"], [1280, "dark"]]) {
    const { page, log, close } = await openDay({ width, colorScheme });
    const place = page.locator("#charge-picture");
    await place.scrollIntoViewIfNeeded();
    await settled(page);
    assert.match(await text(page, "#charge-picture > p"), /^The least in the battery is [\d.]+ of [\d.]+ Ah, at \d+:\d\d; /);
    const ink = await page.evaluate(() => {
      const canvas = document.querySelector("#charge-canvas");
      const { data } = canvas.getContext("2d").getImageData(0, 0, canvas.width, canvas.height);
      return data.filter((value, at) => at % 4 === 3 && value > 128).length;
    });
    assert.ok(ink > 1000, `${ink} pixels`);
    await page.locator("#charge-table > summary").click();
    // A browser tells of an opened part a task later.
    await page.locator("#charge-table tbody tr").first().waitFor();
    const rows = await page.locator("#charge-table tbody tr").evaluateAll((all) => all.map((row) => [...row.cells].map((cell) => cell.textContent)));
    await page.locator("#table > summary").click();
    await settled(page);
    assert.equal(rows.length, await page.locator("#table-rows tr").count());
    const least = Math.min(...rows.map((row) => Number(row[3])));
    assert.ok(least <= 45 && least > 0, `${least}`);
    assert.ok(await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth), "no sideways scroll");
    const at = () => place.locator(".pass-line").evaluate((line) => line.getBoundingClientRect().left);
    const before = await at();
    await page.locator("#cursor").focus();
    await page.keyboard.press("Home");
    await settled(page);
    assert.ok((await at()) < before);
    await screenshot(page, `charge-${width}-${colorScheme}`, { fullPage: false });
    assert.deepEqual(await findViolations(page), []);
    quiet(log);
    await close();
  }
});

test("without launches there is no pass to show or save", async () => {
  const { page, close } = await openDay();
  await page.locator("#example").selectOption("dyno_bench_session");
  await settled(page);
  assert.ok(!(await page.locator("#pass-picture").isVisible()));
  assert.ok(await page.locator("#save-pictures option[value=pass]").isDisabled());
  const svg = await saved(page, "heat", "#save-svg");
  assert.match(svg.bytes.toString("utf8"), /per event/);
  await close();
});

test("options that cannot be drawn are refused in words, and the core lives on", async () => {
  const { page, close } = await openDay();
  await withModules(page);
  const said = await page.evaluate(async () => {
    const main = [...document.scripts].find((script) => script.src.endsWith("main.js")).src;
    const { core } = await import(new URL("core.js", main).href);
    const wasm = await core();
    const day = wasm.Day.simulate(wasm.examples()[0].text);
    const canvas = document.createElement("canvas");
    const attempt = (options) => {
      try {
        day.draw(canvas, { width: 400, height: 200, nodes: ["pan_fluid"], ...options });
        return "drawn";
      } catch (error) {
        return error.message;
      }
    };
    const overlay = { node: "pan_fluid", times_s: [0, 600, NaN, 300], value_k: [300, 320, 1, 2], light: "#aa0000", dark: "#ffaaaa", width: 2, dash: [4, 2] };
    const band = { node: "pan_fluid", times_s: [0, 600], low_k: [300, 310], high_k: [320, 330], light: "#aa0000", dark: "#ffaaaa" };
    const answers = [
      { picture: "cake" }, { knots: [[0, 0], [0, 1]] }, { knots: [[0, 0.2], [10, 1]] }, { picture: "pass", launch: 99 },
      { overlays: [{ ...overlay, light: "red" }] }, { overlays: [{ ...overlay, node: "axle" }] }, { ticks: 7 },
      { knots: [[0, 0], [100, 0.5], [7000, 1]], ticks: [{ time_s: 100, text: "R1" }, { time_s: 1e9, text: "" }], overlays: [overlay, band] },
    ].map(attempt);
    const series = day.series("pan_fluid", new Float64Array([0, 100, 1e9]));
    const heat = day.heat("us");
    day.free();
    return { answers, series: [series.constructor.name, series.length, [...series].every((kelvin) => kelvin > 250 && kelvin < 500)], heat: heat.rows.length };
  });
  const expected = [/no picture cake/, /rise strictly/, /share 0 to share 1/, /no launch number 100/, /colour/, /no node axle/, /options of the picture/, /^drawn$/];
  said.answers.forEach((answer, at) => assert.match(answer, expected[at]));
  assert.deepEqual(said.series, ["Float64Array", 3, true]);
  assert.ok(said.heat > 10);
  await close();
});

test("the picture of a pass is accessible, light and dark", async () => {
  for (const colorScheme of ["light", "dark"]) {
    const { page, close } = await openDay({ width: 360, colorScheme });
    await page.locator("#pass-course-table > summary").click();
    await page.evaluate(axeSource);
    const found = await page.evaluate(() => globalThis.axe.run("#pass-picture", { rules: { "target-size": { enabled: true } } }));
    assert.deepEqual(found.violations.map(({ id, nodes }) => [id, nodes[0].html]), []);
    await close();
  }
});
