// A worker with a core of its own, made for long work: runs one task and says how far it is.
//
//   { kind: "family", days: [text], node, times_s }
//     → [{ value_k, summary: { us, si } } or { error }], one a day
//   { kind: "band", day: text, nodes, times_s, draws, known }
//     → { nodes: { key: { low_k, high_k } }, launches: { us, si }, simulated, draws }
//   { kind: "plan", day: text, asked, every }
//     → { rests, launch, answer: { us, si, day, curves } or null }
//   { kind: "size", day: text, asked, units, against, cells, width, height }
//     → { answer, table, light, dark }, the last two SVG
async function jobs() {
  const module = await import("./jobs/stallheat_jobs.js");
  await module.default();
  return module;
}

const DRAWS_A_STEP = 4;
const words = (error) => ("limit" in error ? `${error.value}: ${error.limit}. ${error.remedy}` : String(error.message ?? error));

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

function band(wasm, { day, nodes, times_s, draws, known }) {
  const made = new wasm.Band(day, times_s, draws, known.join(" "));
  const launches = (units) => {
    const flat = made.launches(units);
    return Array.from({ length: flat.length / 6 }, (_, at) => {
      const [converter, pan, elapsed_s] = [0, 2, 4].map((from) => Array.from(flat.slice(6 * at + from, 6 * at + from + 2)));
      return { converter, pan, elapsed_s: Number.isNaN(elapsed_s[0]) ? null : elapsed_s };
    });
  };
  for (let done = 0; done < draws; postMessage({ done, of: draws })) done = made.step(DRAWS_A_STEP);
  const lines = nodes.map((key) => {
    const both = made.node(key);
    return [key, { low_k: both.slice(0, both.length / 2), high_k: both.slice(both.length / 2) }];
  });
  return {
    nodes: Object.fromEntries(lines),
    launches: { us: launches("us"), si: launches("si") },
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
    // Of a rest that is not there any more, or none asked: the last.
    const launch = rests.some((rest) => rest.launch === asked.launch) ? asked.launch : rests.at(-1).launch;
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

const KINDS = { band, family, plan, size };

addEventListener("message", async ({ data }) => {
  try {
    const wasm = await jobs();
    postMessage({ result: KINDS[data.kind](wasm, data) });
  } catch (error) {
    postMessage({ error: error instanceof WebAssembly.RuntimeError ? "The computation stopped; try again." : words(error) });
  }
});
