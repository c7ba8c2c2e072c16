// The page against its budgets: `node tests/bench/page.mjs` (after `npm ci --prefix tests/page`; the page is built first
// unless STALLHEAT_SITE names a built one). Prints numbers and asserts none: machines are noisy.
//
// Environment: MOVES of the slider (80), EDITS at most (10 000), and what page tests take (see tests/page/harness.mjs).
import { openDayOf, ready, slider, startSite } from "../page/harness.mjs";

const MOVES = Number(process.env.MOVES ?? 80);
const EDITS = Number(process.env.EDITS ?? 10_000);
const SLIDER = "cooler.ua";
// A slow telephone network: 1.6 Mbit/s, 150 ms to the server and back.
const SLOW_NETWORK = { offline: false, latency: 150, downloadThroughput: 1.6e6 / 8, uploadThroughput: 0.75e6 / 8 };
const SLOW_CPU = 4;

const rows = [];
const row = (what, value, budget = "") => rows.push([what, value, budget]);
const kb = (bytes) => `${(bytes / 1000).toFixed(1)} kB`;
const mb = (bytes) => `${(bytes / 1e6).toFixed(1)} MB`;
const ms = (value) => `${value.toFixed(0)} ms`;
const part = (sorted, share) => sorted[Math.min(sorted.length - 1, Math.floor(share * sorted.length))];

/** Bytes of the first view as they came over the wire, without headers. */
async function weigh(site) {
  const { page, log, close } = await openDayOf(site);
  await page.waitForTimeout(500);
  const all = await page.evaluate(() => {
    const [{ startTime: shown }] = performance.getEntriesByName("day shown");
    return [...performance.getEntriesByType("navigation"), ...performance.getEntriesByType("resource")].map((entry) =>
      ({ name: entry.name, sent: entry.encodedBodySize, whole: entry.decodedBodySize, first: entry.startTime < shown }));
  });
  const files = all.filter(({ first }) => first);
  const sent = (some) => some.reduce((sum, file) => sum + file.sent, 0);
  const wasm = files.filter(({ name }) => /\.wasm$/.test(name));
  const unpacked = files.filter(({ sent: bytes, whole }) => bytes === whole && whole > 400);
  row("wasm, gzip", kb(sent(wasm)), "150 kB");
  row("its rest, after the first view", kb(sent(all.filter(({ name, first }) => !first && /\.wasm$/.test(name)))));
  row("first view, gzip", `${kb(sent(files))} in ${files.length} files`, "240 kB");
  const later = all.filter(({ first }) => !first);
  row("after it, gzip", `${kb(sent(later))} in ${later.length} files`);
  row("wasm files asked for", String(log.requests.filter((address) => /\.wasm(\?|$)/.test(address)).length), "2");
  row("files sent unpacked", String(unpacked.length), "0");
  row("lines on the console", String(log.console.length), "0");
  for (const { text } of log.console) row("", text);
  for (const { name, sent: bytes } of files.sort((a, b) => b.sent - a.sent).slice(0, 6)) {
    row(`  ${name.split("/").pop()}`, kb(bytes));
  }
  await close();
}

async function slowed(page, { cpu, network }) {
  const devtools = await page.context().newCDPSession(page);
  if (network) {
    await devtools.send("Network.enable");
    await devtools.send("Network.emulateNetworkConditions", network);
  }
  if (cpu) await devtools.send("Emulation.setCPUThrottlingRate", { rate: cpu });
  return devtools;
}

/** When text can be read, and when the finding is computed and a slider changes it, since the start of navigation. */
async function start(site, label, conditions, budget) {
  const { page, close } = await site.open({ path: null });
  await slowed(page, conditions);
  await page.goto(site.url, { waitUntil: "commit" });
  await page.waitForFunction(() => performance.getEntriesByName("day shown").length > 0);
  const times = await page.evaluate((path) => {
    const range = document.querySelector(`.control[data-path="${path}"] input[type=range]`);
    const shown = () => document.querySelector("#key-peak").textContent + document.querySelector("#finding").textContent;
    const before = shown();
    range.value = Number(range.value) + 20 * Number(range.step || 1);
    range.dispatchEvent(new Event("input", { bubbles: true }));
    return new Promise((done) => {
      const look = () => {
        if (shown() === before && performance.now() < 60_000) requestAnimationFrame(look);
        else {
          const paint = performance.getEntriesByName("first-contentful-paint")[0]?.startTime ?? NaN;
          done({ paint, interactive: performance.now() });
        }
      };
      requestAnimationFrame(look);
    });
  }, SLIDER);
  row(`readable, ${label}`, ms(times.paint));
  row(`interactive, ${label}`, ms(times.interactive), budget);
  await close();
}

/** What is dragged: the event that a move makes, and where the mouse goes, by share of its way. */
const DRAGGED = {
  slider: {
    event: "input",
    async way(page) {
      // The set-up stands beside the picture: both are in sight.
      await page.locator("#chart").evaluate((node) => node.scrollIntoView({ block: "center" }));
      await slider(page, SLIDER).scrollIntoViewIfNeeded();
      const track = await slider(page, SLIDER).boundingBox();
      return { y: track.y + track.height / 2, at: (share) => track.x + track.width * (0.2 + 0.6 * share) };
    },
  },
  block: {
    event: "pointermove",
    async way(page) {
      await page.getByRole("button", { name: "R2: round 2" }).click();
      await page.locator("#lanes").evaluate((node) => node.scrollIntoView({ block: "center" }));
      const hold = await page.locator('#lane-car .block[data-event="brake_hold"]').boundingBox();
      return { y: hold.y + hold.height / 2, at: (share) => hold.x + hold.width - 1 + 40 * share };
    },
  },
};

/**
 * From the move's event to the end of the frame in which the chart was drawn of a day that was computed after it, and to
 * the end of the one that also shows all else in sight of it; dragging with the mouse.
 *
 * Which day is drawn is read off the core's own calls: the text that `Day.simulate` got last must be that of the `Day`
 * that drew the chart, and the slider's value must stand in it. A move that changes nothing, a block that stays on its
 * step, draws nothing and is counted apart.
 *
 * Without a graphics card the canvases are rastered within the frame: with Chromium 3 ms of a move at full speed, two of
 * them the chart's five curves. A browser with a card does that elsewhere.
 */
async function drag(site, what, label, conditions, budget) {
  const { page, close } = await openDayOf(site);
  await slowed(page, conditions);
  const { y, at } = await DRAGGED[what].way(page);
  await page.evaluate(async ({ kind, path }) => {
    const script = performance.getEntriesByType("resource").find((entry) => /core\/stallheat\.js$/.test(entry.name));
    const { Day } = await import(script.name);
    const { simulate } = Day;
    const { draw } = Day.prototype;
    const texts = new WeakMap();
    let computed = { number: 0, text: "" };
    let drawn = computed;
    Day.simulate = (text) => {
      const day = simulate(text);
      computed = { number: computed.number + 1, text };
      texts.set(day, computed);
      return day;
    };
    Day.prototype.draw = function drawOf(canvas, options) {
      if (canvas.id === "chart") drawn = texts.get(this) ?? drawn;
      return draw.call(this, canvas, options);
    };
    window.moves = [];
    window.idle = 0;
    window.wrong = 0;
    window.long = [];
    const range = document.querySelector(`.control[data-path="${path}"] input[type=range]`);
    const [part, key] = path.split(".");
    const waits = () => document.documentElement.dataset.behind === "in-sight";
    addEventListener(kind, (event) => {
      const from = performance.now();
      const before = computed.number;
      const value = Number(range.value);
      const move = { own: from - event.timeStamp, chart: NaN };
      let frames = 0;
      const look = (frame) => {
        const late = waits();
        // A message posted in a frame is delivered after all of that frame's work: script, layout and paint.
        const { port1, port2 } = new MessageChannel();
        port1.onmessage = () => {
          const now = performance.now();
          frames += 1;
          const here = Number.isNaN(move.chart) && drawn.number > before;
          if (here) {
            Object.assign(move, { chart: now - from, frame: now - frame });
            const stated = Number.parseFloat(JSON.parse(drawn.text).setup?.[part]?.[key]);
            // Two moves of the slider in one frame are drawn once, the second.
            const moved = kind === "input" && stated !== value && stated !== Number(range.value);
            if (drawn.text !== computed.text || moved) window.wrong += 1;
          }
          // Every step of the slider is another day; of a block that stays on its step nothing will come later either.
          const none = Number.isNaN(move.chart) && computed.number === before && kind !== "input";
          if (none || frames > 60) window.idle += 1;
          else if (!(move.chart > 0) || (here ? waits() : late)) requestAnimationFrame(look);
          else window.moves.push({ ...move, all: now - from, own: move.own + move.chart });
        };
        port2.postMessage(0);
      };
      requestAnimationFrame(look);
    }, true);
    new PerformanceObserver((list) => window.long.push(...list.getEntries().map((entry) => entry.duration)))
      .observe({ type: "longtask" });
  }, { kind: DRAGGED[what].event, path: SLIDER });
  await page.mouse.move(at(0), y);
  await page.mouse.down();
  for (let move = 1; move <= MOVES; move += 1) {
    await page.mouse.move(at(move / MOVES), y);
    // One move a frame, as a hand makes them.
    await page.evaluate(() => new Promise((done) => requestAnimationFrame(() => setTimeout(done))));
  }
  await page.mouse.up();
  await page.waitForTimeout(300);
  const { moves, long, idle, wrong } = await page.evaluate(() => {
    const { moves: all, long: tasks, idle: none, wrong: others } = window;
    return { moves: all.slice(2), long: tasks, idle: none, wrong: others };
  });
  const both = (key) => {
    const sorted = moves.map((move) => move[key]).sort((a, b) => a - b);
    return `${ms(part(sorted, 0.5))} / ${ms(part(sorted, 0.95))}`;
  };
  const counted = `${moves.length} moves${idle > 0 ? `, ${idle} more changed nothing` : ""}${wrong > 0 ? `, ${wrong} SHOWED ANOTHER DAY` : ""}`;
  row(`${what} to painted chart, ${label}, p50 / p95`, `${both("chart")} (${counted})`, budget);
  row("  of it within the frame", both("frame"));
  row("  since the mouse moved, which waits for a frame", both("own"));
  row("  all in sight up to date", both("all"));
  row("  long tasks (over 50 ms)", `${long.length}${long.length > 0 ? `, longest ${ms(Math.max(...long))}` : ""}`, conditions.cpu ? "" : "0");
  await close();
}

/** What the page holds after many edits, each its own entry of undo; garbage is collected before looking. */
async function memory(site) {
  const { page, close } = await openDayOf(site);
  const devtools = await page.context().newCDPSession(page);
  const look = async (edits) => {
    await devtools.send("HeapProfiler.collectGarbage");
    const { usedSize } = await devtools.send("Runtime.getHeapUsage");
    const wasm = await page.evaluate(async () => {
      const script = performance.getEntriesByType("resource").find((entry) => /core\/stallheat\.js$/.test(entry.name));
      return (await (await import(script.name)).default()).memory.buffer.byteLength;
    });
    const nodes = await page.evaluate(() => document.getElementsByTagName("*").length);
    row(`after ${edits} edits`, `scripts ${mb(usedSize)}, wasm ${mb(wasm)}, ${nodes} elements`, edits === 0 ? "" : "flat");
  };
  await look(0);
  let done = 0;
  for (const until of [1_000, 5_000, 10_000].filter((edits) => edits <= EDITS)) {
    await page.evaluate(async ({ path, from, to }) => {
      const range = document.querySelector(`.control[data-path="${path}"] input[type=range]`);
      const step = Number(range.step || 1);
      const middle = Number(range.value);
      for (let edit = from; edit < to; edit += 1) {
        range.value = middle + step * ((edit % 21) - 10);
        range.dispatchEvent(new Event("input", { bubbles: true }));
        range.dispatchEvent(new Event("change", { bubbles: true }));
        await new Promise((next) => requestAnimationFrame(next));
      }
    }, { path: SLIDER, from: done, to: until });
    done = until;
    await look(until);
  }
  await close();
}

const site = await startSite();
try {
  await weigh(site);
  await start(site, "as fast as this machine", {});
  await start(site, "1.6 Mbit/s, 150 ms", { network: SLOW_NETWORK }, "2500 ms");
  await start(site, "the same, processor slowed 4×", { network: SLOW_NETWORK, cpu: SLOW_CPU }, "2500 ms");
  for (const what of ["slider", "block"]) {
    await drag(site, what, "full speed", {}, "16 ms");
    await drag(site, what, "processor slowed 4×", { cpu: SLOW_CPU }, "100 ms");
  }
  if (EDITS > 0) await memory(site);
} finally {
  await site.close();
}
const width = Math.max(...rows.map(([what]) => what.length));
for (const [what, value, budget] of rows) console.log(`${what.padEnd(width)}  ${value}${budget ? `   (budget ${budget})` : ""}`);
