// Clicks, types, drags, presses keys, goes back and forth and resizes at random on a built page, from a seed, and watches:
// `node tests/bench/monkey.mjs [seconds] [seed] [address]`, with an address such as `lessons.html` or `embed.html`.
//
// Reported with what was done last: anything on the console, uncaught errors, requests that failed or left the page, a fault told
// by the page itself, a main thread held for longer than HANG_MS, a page that does not answer. Any of these makes the exit
// code 1. Needs what the page tests need (DEVELOPERS.md); `STALLHEAT_SITE` names a built page.
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { openPage, root, startSite, strangers } from "../page/harness.mjs";
import { alteredText, randomOf } from "../page/hostile/random.mjs";

const [secondsText = "600", seedText = "1", path = ""] = process.argv.slice(2);
const [seconds, seed] = [Number(secondsText), Number(seedText)];
const HANG_MS = 2_000;
/** A page that answers nothing for so long has hung for good. */
const DEAD_MS = 60_000;
const KEPT_ACTIONS = 12;
const FAULTS = /fault of the program|The computation stopped|could not be loaded|The page could not start|\[object |\bundefined\b|\bNaN\b/;
const SIZES = [[320, 640], [360, 780], [768, 1024], [1280, 800], [1600, 900], [740, 360]];
const KEYS = ["Tab", "Shift+Tab", "Enter", "Space", "Escape", "ArrowLeft", "ArrowRight", "ArrowUp", "ArrowDown", "Home", "End", "PageUp", "PageDown", "Delete", "Backspace", "Control+z", "Control+y", "Control+Shift+z", "Control+a", "Control+Enter", "Shift+ArrowRight", "a", "?", "5"];
const TEXTS = ["", "0", "-5", "5", "1e9", "120 °F", "95", "12:30", "20 min", "3 gal", "1,5", "banana", "110 W/K", "how long can I hold it on the brake at 4200 rpm", "6 rounds 30 min", "9".repeat(300), "<b>x</b>", "é\u202e🏁", "1/4", "2.5 s", "none", "  "];

const random = randomOf(seed);
const done = [];
const found = new Map();
let count = 0;

function report(kind, text) {
  const cause = `${kind}: ${String(text).replace(/\d+(\.\d+)?/g, "#").slice(0, 200)}`;
  const known = found.get(cause);
  if (known) known.times += 1;
  else {
    found.set(cause, { times: 1, text: String(text).slice(0, 1_500), at: count, last: done.slice(-KEPT_ACTIONS) });
    console.log(`#${count} ${kind}: ${String(text).slice(0, 600)}\n   after ${done.slice(-4).join(" · ")}`);
  }
}

/** Before any script of the page: what would leave it or wait for somebody, and a watch on the main thread. */
function prepare() {
  window.print = () => {};
  window.long = [];
  new PerformanceObserver((list) => {
    for (const { duration, startTime } of list.getEntries()) if (duration > 500) window.long.push([Math.round(startTime), Math.round(duration)]);
  }).observe({ type: "longtask", buffered: true });
}

/** What can be used on the page, [{ what, x, y }], in view after scrolling one into it. */
const target = (share) => {
  const all = [...document.querySelectorAll("button, summary, input, select, textarea, a[href], label, canvas, [tabindex], [role=slider], svg")].filter((node) => {
    if (node.closest("[inert]") || node.disabled) return false;
    const box = node.getBoundingClientRect();
    return box.width > 0 && box.height > 0 && getComputedStyle(node).visibility !== "hidden";
  });
  if (all.length === 0) return null;
  const node = all[Math.floor(share * all.length)];
  node.scrollIntoView({ block: "center", behavior: "instant" });
  const box = node.getBoundingClientRect();
  const name = node.id ? `#${node.id}` : `${node.className?.baseVal ?? node.className}`.split(" ")[0];
  const words = (node.getAttribute("aria-label") ?? node.textContent ?? "").trim().slice(0, 30);
  return { what: `${node.localName}${name ? `[${name}]` : ""} ${JSON.stringify(words)}`, tag: node.localName, type: node.type ?? "", x: box.x, y: box.y, width: box.width, height: box.height, options: node.localName === "select" ? node.options.length : 0 };
};

const FILES = [
  ["day.json", () => readFileSync(join(root, "scenarios/test_and_tune_evening.json"), "utf8")],
  ["altered.json", () => alteredText(random, readFileSync(join(root, "scenarios/test_and_tune_evening.json"), "utf8"))],
  ["readings.csv", () => readFileSync(join(root, "scenarios/dyno_bench_readings.csv"), "utf8")],
  ["altered.csv", () => alteredText(random, readFileSync(join(root, "scenarios/dyno_bench_readings.csv"), "utf8"))],
  ["empty.json", () => ""],
];

async function act(page) {
  const { mouse, keyboard } = page;
  const { width, height } = page.viewportSize();
  const anywhere = () => [random.below(width), random.below(height)];
  const aim = async () => {
    const one = await page.evaluate(target, random.share());
    // A link to another page is followed now and then only.
    if (!one || (one.tag === "a" && random.chance(0.7))) return null;
    return { ...one, at: [one.x + one.width * (0.05 + 0.9 * random.share()), one.y + one.height * (0.05 + 0.9 * random.share())] };
  };
  const note = (text) => done.push(text);
  const draw = random.share();
  if (draw < 0.45) {
    const one = await aim();
    if (!one) return;
    note(`click ${one.what}`);
    await mouse.click(...one.at, { clickCount: random.chance(0.1) ? 2 : 1 });
    if (one.tag === "select" && one.options > 0) {
      note(`choose ${one.what}`);
      for (let steps = random.below(one.options); steps > 0; steps -= 1) await keyboard.press("ArrowDown");
      await keyboard.press("Enter");
    } else if ((one.tag === "input" && ["text", "search", "number", ""].includes(one.type)) || one.tag === "textarea") {
      const words = random.chance(0.15) ? alteredText(random, random.pick(TEXTS) || "1").slice(0, 300) : random.pick(TEXTS);
      note(`type ${JSON.stringify(words.slice(0, 30))}`);
      if (random.chance(0.7)) await keyboard.press("Control+a");
      await keyboard.insertText(words);
      if (random.chance(0.6)) await keyboard.press(random.pick(["Enter", "Tab", "Escape"]));
    }
  } else if (draw < 0.53) {
    const at = anywhere();
    note(`click at ${at}`);
    await mouse.click(...at, { button: random.chance(0.05) ? "right" : "left" });
  } else if (draw < 0.66) {
    const one = random.chance(0.8) ? await aim() : { what: "page", at: anywhere() };
    if (!one) return;
    note(`drag ${one.what}`);
    await mouse.move(...one.at);
    await mouse.down();
    for (let steps = 1 + random.below(6); steps > 0; steps -= 1) await mouse.move(...anywhere(), { steps: 2 });
    if (random.chance(0.1)) await keyboard.press("Escape");
    await mouse.up();
  } else if (draw < 0.8) {
    const key = random.pick(KEYS);
    const times = 1 + random.below(random.chance(0.2) ? 20 : 3);
    note(`${times} × ${key}`);
    for (let turn = 0; turn < times; turn += 1) await keyboard.press(key);
  } else if (draw < 0.88) {
    note("wheel");
    await mouse.move(...anywhere());
    await mouse.wheel(0, (random.share() - 0.5) * 4_000);
  } else if (draw < 0.93) {
    const [to, tall] = random.pick(SIZES);
    note(`resize ${to}×${tall}`);
    await page.setViewportSize({ width: to, height: tall });
  } else if (draw < 0.96) {
    const way = random.pick(["back", "forward"]);
    note(way);
    await page.evaluate((to) => history[to](), way);
    await page.waitForTimeout(100);
  } else if (draw < 0.975) {
    note("scheme");
    await page.emulateMedia({ colorScheme: random.pick(["light", "dark"]), reducedMotion: random.pick(["reduce", "no-preference"]) });
  } else if (draw < 0.98) {
    note("reload");
    await page.reload();
  } else {
    await page.waitForTimeout(random.below(1_500));
  }
}

/** What the page tells of itself. */
const told = () => ({
  said: ["#problem", "#finding", "#finding-more", "body.failed main"].map((place) => document.querySelector(place)).filter((node) => node && !node.hidden).map((node) => node.textContent).join(" "),
  everything: document.body.innerText.match(/.{0,60}(\[object |\bundefined\b|\bNaN\b|fault of the program).{0,60}/)?.[0] ?? null,
  long: window.long?.splice(0) ?? [],
});

const withDeadline = (promise, what) => {
  let timer;
  const late = new Promise((_, fail) => {
    timer = setTimeout(() => fail(new Error(`no answer for ${DEAD_MS / 1000} s: ${what}`)), DEAD_MS);
  });
  return Promise.race([promise, late]).finally(() => clearTimeout(timer));
};

const site = await startSite();
const { page, context, log, close } = await openPage(site.browser, site.url, { path: null });
await context.addInitScript(prepare);
page.setDefaultTimeout(DEAD_MS);
page.on("dialog", (dialog) => {
  done.push(`dialog ${dialog.message().slice(0, 60)}`);
  dialog.dismiss().catch(() => {});
});
context.on("page", (popup) => popup !== page && popup.close().catch(() => {}));
page.on("filechooser", (chooser) => {
  const [name, content] = random.pick(FILES);
  done.push(`file ${name}`);
  chooser.setFiles({ name, mimeType: "text/plain", buffer: Buffer.from(content()) }).catch(() => {});
});
const home = new URL(path, site.url).href;
await page.goto(home);
await page.waitForTimeout(1_000);

let [console_, errors, failed, asked] = [0, 0, 0, 0];
let longest = 0;
const started = performance.now();
while (performance.now() - started < seconds * 1000) {
  count += 1;
  try {
    await withDeadline(act(page), "an action");
    const now = await withDeadline(page.evaluate(told), "the page");
    if (FAULTS.test(now.said) || now.everything) report("told", `${now.said.slice(0, 500)} | ${now.everything}`);
    for (const [, ms] of now.long) {
      longest = Math.max(longest, ms);
      if (ms > HANG_MS) report("hang", `${ms} ms of one task`);
    }
  } catch (error) {
    // The page may be loading anew, or another one.
    if (!/Execution context was destroyed|navigation|Cannot read properties of null/.test(error.message)) report("harness", error.stack);
    await page.waitForTimeout(200);
  }
  // Left before all had come: what was under way then says that it failed.
  const left = log.failed.slice(failed).some(({ reason }) => reason === "net::ERR_ABORTED");
  for (; console_ < log.console.length; console_ += 1) {
    const { type, text } = log.console[console_];
    if (!(left && /^TypeError: Failed to fetch/.test(text))) report(`console ${type}`, text);
  }
  for (; errors < log.errors.length; errors += 1) report("uncaught", log.errors[errors]);
  for (; failed < log.failed.length; failed += 1) {
    const { url, reason } = log.failed[failed];
    if (reason !== "net::ERR_ABORTED") report("failed", `${reason} ${url}`);
  }
  for (; asked < log.requests.length; asked += 1) if (strangers({ requests: [log.requests[asked]] }, site.url).length > 0) report("stranger", log.requests[asked]);
  // Another page of the site is looked at for a while, then this one again.
  if (new URL(page.url()).pathname !== new URL(home).pathname && random.chance(0.05)) await page.goto(home).catch(() => {});
}
console.log(`${count} actions in ${seconds} s, seed ${seed}, ${home.slice(site.url.length) || "the page"}: ${found.size} kinds of findings; longest task ${longest} ms`);
for (const [cause, { times, text, at, last }] of found) console.log(`\n${times} × ${cause}\nfirst at action ${at}: ${text}\nafter:\n  ${last.join("\n  ")}`);
await close();
await site.close();
process.exitCode = found.size > 0 ? 1 : 0;
