// The lessons: a list, and at `#<slug>` or `#<slug>/<step>` one lesson in three steps: guess, what happened, try it.
// Every step can be skipped or gone back to. The guess is kept in SI in this browser; numbers in the text are read off
// the run and never stored.
import { core } from "./core.js";
import { element, freshId, setText } from "./element.js";
import { linkOf } from "./link.js";
import { drawChart } from "./lessonchart.js";
import { filled, readLessons, scenarioOf } from "./lessondata.js";
import { runOf, valueText } from "./lessonrun.js";

const KEY = "stallheat lessons";
const $ = (id) => document.getElementById(id);
const RANGE_K = [280, 480];
const RANGE_RPM = [4800, 6000];
const STEPS = 3;

/** What is kept of guesses, numbers by lesson; anything else is left out. */
const guessesOf = (read) => Object.fromEntries(Object.entries(read && typeof read === "object" ? read : {}).filter(([, guess]) => Number.isFinite(guess)));
let kept = { guesses: {}, done: [], units: "us" };
try {
  const read = JSON.parse(localStorage.getItem(KEY));
  if (read && typeof read === "object") kept = { guesses: guessesOf(read.guesses), done: Array.isArray(read.done) ? read.done : [], units: read.units === "si" ? "si" : "us" };
} catch {
  // A browser that keeps nothing still plays.
}
const keep = () => {
  try {
    localStorage.setItem(KEY, JSON.stringify(kept));
  } catch {
    // As above.
  }
};

let wasm;
let words;
let lessons;
let runs = new Map();
let redraw = () => {};
let chosen = null;

const value = (read) => valueText(wasm, read, kept.units, words);

function run(lesson, changes = []) {
  const key = lesson.slug + JSON.stringify(changes);
  if (!runs.has(key)) runs.set(key, runOf(wasm, lesson, changes));
  return runs.get(key);
}

/** All placeholders of a lesson, read off its run and its reference. */
function valuesOf(lesson) {
  const told = run(lesson);
  const reference = lesson.reference ? run(lesson, lesson.reference) : told;
  return Object.fromEntries(Object.entries(lesson.values).map(([name, asked]) => [name, value((asked.day === "reference" ? reference : told).read(asked))]));
}

/** How values of a lesson are shown: number ↔ SI, and the ends and ticks of the axis. */
function scaleOf(lesson) {
  if (lesson.guess.kind === "flash") {
    return { unit: "rpm", lowest: RANGE_RPM[0], highest: RANGE_RPM[1], tick: 200, step: 10, of: (shown) => shown, to: (rpm) => rpm, show: (shown) => value({ rpm: shown }) };
  }
  const unit = kept.units === "us" ? "°F" : "°C";
  const to = (kelvin) => wasm.temperature(kelvin, kept.units);
  const of = (shown) => wasm.kelvin(`${shown} ${unit}`);
  return { unit, lowest: Math.ceil(to(RANGE_K[0])), highest: Math.floor(to(RANGE_K[1])), tick: kept.units === "us" ? 50 : 25, step: 1, of, to, show: (shown) => `${Math.round(shown)} ${unit}` };
}

const link = (slug, step = 1) => `#${slug}${step > 1 ? `/${step}` : ""}`;
const para = (text, name) => element("p", { text, class: name ?? false });
const go = (text, href, name) => element("a", { class: `lesson-step ${name ?? ""}`, href, text });

function place() {
  const [slug, wanted] = location.hash.slice(1).split("/");
  const step = Number(wanted ?? 1);
  // What lies beyond is the first step: the last one gives the answer away.
  return { lesson: lessons.find((one) => one.slug === slug), slug, step: [1, 2, 3].includes(step) ? step : 1 };
}

function list(slug) {
  document.title = `stallheat: ${words.page.title}`;
  return [
    element("h1", { text: words.page.title, tabindex: "-1" }),
    ...(slug ? [para(words.page.unknown, "problem")] : []),
    para(words.page.lead), para(words.page.invented, "invented"),
    element("ol", { class: "lesson-list" }, ...lessons.map((lesson) => element("li", {},
      element("a", { href: link(lesson.slug), text: lesson.text.title }),
      element("span", { class: "help", text: `${words.page.minutes.replace("{minutes}", lesson.minutes)}${kept.done.includes(lesson.slug) ? ` · ✓ ${words.page.done}` : ""}` })))),
  ];
}

/** The chart with what has been run: `more` are further curves of another day. */
function chartOf(lesson, { shown, dragged, other }) {
  const figure = element("figure", { class: "lesson-figure" });
  const told = run(lesson);
  const span = [lesson.from_s / 60, Math.max(told.end_s, other?.end_s ?? 0) / 60];
  let handle;
  const draw = () => {
    const scale = scaleOf(lesson);
    const points = (of, node) => of.curve(node, lesson.from_s).map(([time_s, si]) => [time_s / 60, scale.to(si)]);
    const curves = [];
    if (shown) {
      for (const node of lesson.shown) {
        const main = node === (lesson.guess.node ?? "flash");
        curves.push({ name: words.nodes[node], kind: main ? "main" : "beside", points: points(told, node) });
      }
      if (other) {
        const node = lesson.effect.node ?? "flash";
        curves.push({ name: chosen.name, kind: "other", points: points(other, node) });
      }
    }
    const guess = kept.guesses[lesson.slug];
    handle = drawChart(figure, { curves, guess: guess === undefined ? null : scale.to(guess), mark: told.read(lesson.guess).time_s / 60, span, scale, words, unit: scale.unit, dragged });
  };
  redraw = draw;
  return { figure, draw, place: (to) => handle?.place(to) };
}

function guessStep(lesson) {
  const scale = scaleOf(lesson);
  const start = (scale.lowest + scale.highest) / 2;
  const set = (shown, from) => {
    if (!Number.isFinite(shown)) return;
    const within = shown >= scale.lowest && shown <= scale.highest;
    setText(limits, within ? "" : filled(words.page.limits, { low: scale.show(scale.lowest), high: scale.show(scale.highest) }));
    const held = Math.min(scale.highest, Math.max(scale.lowest, Math.round(shown / scale.step) * scale.step));
    kept.guesses[lesson.slug] = scale.of(held);
    keep();
    if (from !== range) range.value = held;
    if (from !== box) box.value = held;
    range.setAttribute("aria-valuetext", scale.show(held));
    chart.place(held);
  };
  // An emptied box is no guess.
  const forget = () => {
    delete kept.guesses[lesson.slug];
    keep();
    chart.draw();
  };
  const limits = element("p", { class: "field-error", role: "status" });
  const chart = chartOf(lesson, { shown: false, dragged: (shown) => set(shown) });
  const had = kept.guesses[lesson.slug];
  const now = had === undefined ? start : scale.to(had);
  const id = freshId("guess");
  const number = { min: scale.lowest, max: scale.highest, step: scale.step };
  const range = element("input", { type: "range", ...number, value: Math.round(now), "aria-label": `${words.page.guess}, ${scale.unit}`, "aria-valuetext": scale.show(now), on: { input: () => set(Number(range.value), range) } });
  const box = element("input", { type: "number", ...number, id, inputmode: "numeric", value: had === undefined ? "" : Math.round(now), on: { input: () => box.value && Number(box.value) >= scale.lowest && set(Number(box.value), box), change: () => (box.value ? set(Number(box.value)) : forget()) } });
  return {
    nodes: [
      para(filled(lesson.text.story, valuesOf(lesson)), "story"), element("h2", { text: lesson.text.question }),
      chart.figure, para(`${words.page.drag} ${words.page.before}`, "help"),
      element("div", { class: "guess-row" }, element("label", { for: id, text: `${words.page.guess} (${scale.unit})` }), range, box), limits,
      element("p", { class: "moves" }, go(words.page.run, link(lesson.slug, 2), "main-step"),
        ...(had === undefined ? [go(words.page.skip, link(lesson.slug, 2))] : [])),
    ],
    draw: chart.draw,
  };
}

/** Guess and run in one sentence; no score. */
function said(lesson) {
  const guess = kept.guesses[lesson.slug];
  const ran = value(run(lesson).read(lesson.guess));
  const text = guess === undefined ? words.page.no_guess : words.page.you_said;
  return para(filled(text, { value: ran, guess: guess === undefined ? "" : scaleOf(lesson).show(scaleOf(lesson).to(guess)) }), "finding");
}

function explainStep(lesson) {
  if (!kept.done.includes(lesson.slug)) {
    kept.done.push(lesson.slug);
    keep();
  }
  const chart = chartOf(lesson, { shown: true });
  return {
    nodes: [
      element("h2", { text: words.page.explain }), said(lesson), chart.figure,
      para(filled(lesson.text.explain, valuesOf(lesson)), "story"),
      element("h3", { text: words.page.model }), para(lesson.text.model, "help"),
      element("p", { class: "moves" }, go(words.page.try, link(lesson.slug, 3), "main-step"), go(words.page.back, link(lesson.slug))),
    ],
    draw: chart.draw,
  };
}

function tryStep(lesson) {
  const options = [{ key: "told", name: words.page.as_told, set: [] }, ...lesson.tries.map((one) => ({ ...one, name: lesson.text.tries[one.key] }))];
  if (!options.some((one) => one.key === chosen?.key)) chosen = options[1];
  else chosen = options.find((one) => one.key === chosen.key);
  const other = chosen.key === "told" ? null : run(lesson, chosen.set);
  const chart = chartOf(lesson, { shown: true, other });
  const id = freshId("try");
  const select = element("select", { id, on: { change: () => {
    chosen = options.find((one) => one.key === select.value);
    show(false);
    document.querySelector("select").focus();
  } } }, ...options.map((one) => element("option", { value: one.key, text: one.name, selected: one.key === chosen.key })));
  const effect = filled(lesson.text.effect, { value: value((other ?? run(lesson)).read(lesson.effect)), base: value(run(lesson).read(lesson.effect)) });
  const open = element("a", { class: "lesson-step", text: words.page.open, href: "index.html" });
  linkOf({ scenario: scenarioOf(lesson, chosen.set), source: null, units: kept.units, view: {} }).then((hash) => open.setAttribute("href", `index.html${hash}`));
  const next = lessons[lessons.indexOf(lesson) + 1];
  return {
    nodes: [
      element("h2", { text: words.page.try }),
      element("p", { class: "try-row" }, element("label", { for: id, text: lesson.text.ask }), select),
      element("p", { class: "finding", role: "status", text: effect }), chart.figure,
      element("p", { class: "moves" }, next ? go(words.page.next, link(next.slug), "main-step") : go(words.page.all, "#", "main-step"), go(words.page.back, link(lesson.slug, 2)), open),
    ],
    draw: chart.draw,
  };
}

function show(moved) {
  const { lesson, slug, step } = place();
  redraw = () => {};
  const into = $("lesson");
  if (!lesson) into.replaceChildren(...list(slug));
  else {
    document.title = `stallheat: ${lesson.text.title}`;
    const head = [element("p", { class: "help" }, element("a", { class: "lesson-step", href: "#", text: words.page.all })), element("h1", { text: lesson.text.title, tabindex: "-1" }), para(`${step} / ${STEPS} · ${words.page.invented}`, "invented")];
    try {
      const { nodes, draw } = [guessStep, explainStep, tryStep][step - 1](lesson);
      into.replaceChildren(...head, ...nodes);
      draw();
    } catch (error) {
      into.replaceChildren(...head, para(filled(words.page.failed, { reason: error.message ?? String(error) }), "problem"));
    }
  }
  if (moved) {
    into.querySelector("h1").focus({ preventScroll: true });
    window.scrollTo(0, 0);
  }
  document.documentElement.dataset.shown = location.hash || "#";
}

async function start() {
  [wasm, { words, lessons }] = await Promise.all([core(), readLessons()]);
  $(`units-${kept.units}`).checked = true;
  for (const radio of document.querySelectorAll("input[name=units]")) {
    radio.addEventListener("change", () => {
      kept.units = radio.value;
      keep();
      show(false);
    });
  }
  window.addEventListener("hashchange", () => {
    chosen = null;
    show(true);
  });
  let width = window.innerWidth;
  window.addEventListener("resize", () => {
    if (window.innerWidth !== width) redraw();
    width = window.innerWidth;
  });
  show(false);
  const { createOffline } = await import("./offline.js");
  await createOffline(document);
}

start().catch((error) => {
  $("lesson").replaceChildren(para(`The lessons could not be opened: ${error.message}. Load the page again.`, "problem"));
});
