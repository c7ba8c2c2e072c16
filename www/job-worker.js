// A worker with a core of its own, made for long work: runs one task and says how far it is.
//
//   { kind: "family", days: [text], node, times_s }
//     → [{ value_k, summary: { us, si } } or { error }], one a day
//   { kind: "sure", day: text, nodes, times_s, draws, known, workers }
//     → { nodes: { key: { low_k, high_k } }, launches, peaks, tornado: each { us, si }, simulated, draws }
//     `workers` share it: this one has helpers, which end with it and are told
//   { kind: "share", day, times_s, draws, known, first, every }
//     → { done: number, numbers } for each of theirs
//   { kind: "plan", day: text, asked, every }
//     → { rests, launch, answer: { us, si, day, curves } or null }, without a launch where the one asked has no rest
//   { kind: "size", day: text, asked, units, against, cells, width, height }
//     → { answer, table, light, dark }, the last two SVG
//   { kind: "bench", record: text or null, units, width, height }
//     → { words, judged: { us, si, light, dark, sheet } or null }
//   { kind: "words" } → { places, surfaces, setting, parameters } that readings are made of, `example` a table of them
//   { kind: "table", text, units } → { rows, ignored }
//   { kind: "check", rows, start, day: text, units } → { rows: [{ … } or { error }], start: error or null }
//   { kind: "fit", day: text, asked: { readings, start, without, free }, width }
//     → { us, si: each { said, pictures: [{ light, dark }] }, day: text }
async function jobs() {
  const module = await import("./jobs/stallheat_jobs.js");
  await module.default();
  return module;
}

let label = (path) => path; // of the core, once it is there
const capital = (text) => `${text.charAt(0).toUpperCase()}${text.slice(1)}`;
const words = (error) => ("limit" in error ? `${error.field ? `${capital(label(String(error.field)))} ` : ""}${error.value}: ${error.limit}. ${error.remedy}` : String(error.message ?? error));

function family(wasm, { days, node, times_s }) {
  return days.map((text, index) => {
    try {
      const day = wasm.Run.simulate(text);
      const one = { value_k: day.series(node, times_s), summary: { us: day.summary("us"), si: day.summary("si") } };
      day.free();
      postMessage({ done: index + 1, of: days.length });
      return one;
    } catch (error) {
      if (error instanceof WebAssembly.RuntimeError) throw error;
      return { error: words(error) };
    }
  });
}

const STEP_MS = 40;
const rest = () => new Promise((go) => setTimeout(go));
const make = (wasm, { day, times_s, draws, known }) => new wasm.Sure(day, times_s, draws, known.join(" "));
// Work is numbered: the draws, then the days of the tornado.
const one = (made, draws, number) => (number < draws ? made.draw(number) : made.day(number - draws));

function share(wasm, task) {
  const made = make(wasm, task);
  const of = task.draws + made.days();
  for (let number = task.first; number < of; number += task.every) {
    const numbers = one(made, task.draws, number);
    postMessage({ done: number, numbers }, [numbers.buffer]);
  }
  made.free();
  return {};
}

async function sure(wasm, task) {
  const { draws, nodes } = task;
  const made = make(wasm, task);
  const of = draws + made.days();
  const found = Array(of);
  let done = 0;
  // A browser may not let a worker have workers of its own.
  const every = typeof Worker === "function" ? Math.max(1, task.workers) : 1;
  const helpers = Array.from({ length: every - 1 }, (_, index) => {
    const first = index + 1;
    return new Promise((end) => {
      const helper = new Worker(import.meta.url, { type: "module" });
      const leave = () => {
        helper.terminate();
        end();
      };
      helper.onmessage = ({ data }) => {
        if (!data.numbers) return leave();
        found[data.done] = data.numbers;
        done += 1;
      };
      helper.onerror = leave;
      helper.postMessage({ ...task, kind: "share", first, every });
    });
  });
  let until = performance.now() + STEP_MS;
  const work = async (numbers) => {
    for (const number of numbers) {
      if (found[number]) continue;
      found[number] = one(made, draws, number);
      done += 1;
      if (performance.now() < until) continue;
      await rest();
      postMessage({ done, of });
      until = performance.now() + STEP_MS;
    }
  };
  const all = Array.from({ length: of }, (_, number) => number);
  await work(all.filter((number) => number % every === 0));
  await Promise.all(helpers);
  // What a helper left undone.
  await work(all);
  found.forEach((numbers, number) => (number < draws ? made.take_draw(numbers) : made.take_day(numbers)));
  const launches = (units) => {
    const flat = made.launches(units);
    return Array.from({ length: flat.length / 6 }, (_, at) => {
      const [converter, pan, elapsed_s] = [0, 2, 4].map((from) => Array.from(flat.slice(6 * at + from, 6 * at + from + 2)));
      return { converter, pan, elapsed_s: Number.isNaN(elapsed_s[0]) ? null : elapsed_s };
    });
  };
  const lines = nodes.map((key) => {
    const both = made.node(key);
    return [key, { low_k: both.slice(0, both.length / 2), high_k: both.slice(both.length / 2) }];
  });
  const both = (say) => ({ us: say("us"), si: say("si") });
  return {
    nodes: Object.fromEntries(lines),
    launches: both(launches),
    peaks: both((units) => made.peaks(units)),
    tornado: both((units) => made.tornado(units)),
    simulated: made.simulated(),
    draws,
  };
}

function plan(wasm, { day, asked, every }) {
  const planner = new wasm.Planner(day);
  try {
    const rests = planner.rests();
    if (rests.length === 0) return { rests, answer: null };
    if (every) return { rests, launch: asked.launch, answer: planner.day(JSON.stringify(asked), (done, of) => postMessage({ done, of })) };
    // None asked: the last. One that is not there is not answered by another.
    const launch = asked.launch ?? rests.at(-1).launch;
    if (!rests.some((rest) => rest.launch === launch)) return { rests, launch: null, answer: null };
    return { rests, launch, answer: planner.rest(JSON.stringify({ ...asked, launch })) };
  } finally {
    planner.free();
  }
}

const DAYS_A_STEP = 5;

function size(wasm, { day, asked, units, against, cells, width, height }) {
  const sizer = new wasm.Sizer(day, JSON.stringify(asked), units);
  try {
    let solved = 0;
    const answer = sizer.solve((done, of) => {
      solved = done;
      postMessage({ done, of: of + cells * cells });
    });
    const of = sizer.begin_map(against, cells);
    for (let done = 0; done < of; postMessage({ done: solved + done, of: solved + of })) done = sizer.step(DAYS_A_STEP);
    return { answer, table: sizer.table(), light: sizer.svg(width, height, false), dark: sizer.svg(width, height, true) };
  } finally {
    sizer.free();
  }
}

const bench = (wasm, { record, units, width, height }) => ({
  words: wasm.bench_words(),
  judged: record === null ? null : wasm.bench_judged(record, units, width, height),
});

const readingWords = (wasm) => ({ ...wasm.readings_words(), example: wasm.example_readings() });
const table = (wasm, { text, units }) => wasm.read_readings(text, units);
const check = (wasm, { rows, start, day, units }) => wasm.check_readings(JSON.stringify(rows), start, day, units);
const EVERY_DAYS = 4;

function fit(wasm, { day, asked, width }) {
  const fitter = new wasm.Fitter(day, JSON.stringify(asked));
  try {
    fitter.run((done) => done % EVERY_DAYS === 0 && postMessage({ done, of: 0 }));
    const [high, low] = [Math.round(Math.max(300, width * 0.62)), Math.round(Math.max(220, width * 0.38))];
    const inUnits = (units) => {
      const both = (draw) => ({ light: draw(false), dark: draw(true) });
      return {
        said: fitter.summary(units),
        pictures: [both((dark) => fitter.temperatures(units, width, high, dark)), both((dark) => fitter.residuals(units, width, low, dark))],
      };
    };
    return { us: inUnits("us"), si: inUnits("si"), day: fitter.day() };
  } finally {
    fitter.free();
  }
}

const KINDS = { bench, check, family, fit, plan, share, size, sure, table, words: readingWords };

addEventListener("message", async ({ data }) => {
  try {
    const wasm = await jobs();
    label = wasm.field_label;
    postMessage({ result: await KINDS[data.kind](wasm, data) });
  } catch (error) {
    postMessage({ error: error instanceof WebAssembly.RuntimeError ? "The computation stopped; try again." : words(error) });
  }
});
