// Plan between rounds: a question to be filled in, and what to do, computed. Asked of one rest or of all of them.
//
// The search runs in a worker that stays. What is asked is kept as it was written, in the reader's words; the answer is
// made anew whenever the day or the question changes.
import { element, freshId, setText } from "./element.js";
import { createJob } from "./job.js";
import { createPlanAnswer } from "./plananswer.js";
import { shown, written } from "./quantity.js";

const EVERY = "every";
const AGAIN_MS = { one: 150, every: 500 };
const ROUTES = [
  ["none", "no pump"], ["pan_loop", "a pump, pan loop"], ["through_converter", "a pump through the converter"],
  ["cooler_first", "a pump, cooler first"], ["any", "a pump, any route"],
];
const ALL_ROUTES = ["pan_loop", "through_converter", "cooler_first"];
const LOOK = { dash: [2, 2], width: 2.2 };
const FIRST = { launch: null, minutes: null, pan: null, shell: null, low: null, high: null, route: null, fan: true, idle: true, gear: false };

// What stays from one typed question to the next as it was set by hand; a question may state it for itself.
const STANDING = ["launch", "low", "high", "route", "fan", "idle", "gear"];
// A round that no launch follows.
const NO_LAUNCH = -1;
const standingOf = (from) => Object.fromEntries(STANDING.filter((key) => key in from).map((key) => [key, from[key]]));

export function createPlan({ store, core, overlays, attempt, kept }, root) {
  const looks = core.tables("us").nodes;
  const job = createJob({ stays: true });
  let asked = readKept(kept.get("plan"));
  let byHand = { ...standingOf(FIRST), ...standingOf(readKept(kept.get("plan")?.by_hand ?? kept.get("plan"))) };
  let rests = [];
  let answer = null; // { us, si, day, curves } and of what it is
  let isFar = false; // asked in the box above: the answer is brought into sight
  let applied = null; // the timeline that a plan was put into, and the question that it answered
  let planned = null; // the text of the day and the question that the answer is of

  const ids = Object.fromEntries(["after", "minutes", "pan", "shell", "low", "high", "route"].map((key) => [key, freshId("plan")]));
  const after = element("select", { id: ids.after, on: { change: () => ask({ launch: after.value === EVERY ? EVERY : Number(after.value), minutes: null, pan: null, shell: null }) } });
  const route = element("select", { id: ids.route, on: { change: () => ask({ route: route.value }) } },
    ...ROUTES.map(([value, text]) => element("option", { value, text })));
  const number = (key, name, dimension) => {
    const unit = element("span", { class: "unit", id: freshId("unit") });
    const commit = () => ask({ [key]: written(input.value, unit.textContent) ?? null });
    const input = element("input", {
      type: "text", class: "number", id: ids[key], inputmode: "decimal", autocomplete: "off", "aria-describedby": unit.id, data: { plan: key },
      on: { change: commit, keydown: (event) => event.key === "Enter" && commit(), focus: () => input.select() },
    });
    return { key, input, unit, dimension, field: [element("label", { for: ids[key], text: name }), element("span", { class: "quantity" }, input, unit)] };
  };
  const minutes = number("minutes", "they call us in", "time");
  const pan = number("pan", "The pan reads", "temperature");
  const shell = number("shell", "the converter’s shell", "temperature");
  const low = number("low", "Wanted at the launch", "temperature");
  const high = number("high", "to", "temperature");
  const numbers = [minutes, pan, shell, low, high];
  const check = (key, text) => {
    const input = element("input", { type: "checkbox", data: { plan: key }, on: { change: () => ask({ [key]: input.checked, ...(key === "idle" && !input.checked ? { gear: false } : {}) }) } });
    return { key, input, element: element("label", { class: "ticked" }, input, element("span", { text })) };
  };
  const ticks = [check("fan", "a fan"), check("idle", "the engine may idle"), check("gear", "even in gear, held on the brake")];
  const now = element("p", { class: "blanks" }, element("label", { for: ids.after, text: "After" }), after, ...minutes.field);
  const read = element("p", { class: "blanks" }, ...pan.field, ...shell.field, element("span", { class: "help", text: "Empty: as computed." }));
  const wanted = element("p", { class: "blanks" }, ...low.field, element("span", { class: "together" }, ...high.field));
  const onCar = element("p", { class: "blanks" }, element("label", { for: ids.route, text: "On the car:" }), route, ...ticks.map((tick) => tick.element));
  const progress = element("progress", { max: 1, value: 0, "aria-label": "Plans tried", hidden: true });
  const stop = element("button", { type: "button", class: "plain", id: "plan-stop", text: "Stop", hidden: true, on: { click: () => halt("Stopped.") } });
  const refused = element("p", { class: "field-error", role: "status", id: "plan-refused" });
  const out = element("div", { class: "plan-answer" });
  root.append(
    element("p", { class: "help", text: "What to do between now and the call so that the car comes to the line in its window: too cold is as wrong as too hot." }),
    now, read,
    wanted,
    onCar,
    element("div", { class: "moves" }, progress, stop),
    refused, out,
  );
  const view = createPlanAnswer(out, { apply });

  function readKept(before) {
    const made = { ...FIRST };
    if (!before || typeof before !== "object") return made;
    for (const key of ["minutes", "pan", "shell", "low", "high"]) {
      if (["string", "number"].includes(typeof before[key])) made[key] = before[key];
    }
    for (const key of ["fan", "idle", "gear"]) if (typeof before[key] === "boolean") made[key] = before[key];
    if (before.launch === EVERY || (Number.isInteger(before.launch) && before.launch >= 0)) made.launch = before.launch;
    if (ROUTES.some(([value]) => value === before.route)) made.route = before.route;
    return made;
  }

  function ask(patch) {
    if (Object.entries(patch).every(([key, value]) => asked[key] === value)) return;
    asked = { ...asked, ...patch };
    byHand = { ...byHand, ...standingOf(patch) };
    keep();
    showInputs();
    later(0);
  }
  const keep = () => kept.set("plan", { ...asked, by_hand: byHand });

  /** Routes that the day's own timeline uses. */
  function routesOfDay({ summary }) {
    return [...new Set(summary.switches.map(({ key }) => key).filter((key) => ALL_ROUTES.includes(key)))];
  }
  function routeNow() {
    if (asked.route) return asked.route;
    const used = routesOfDay(store.state.result);
    return used.length === 1 ? used[0] : "any";
  }

  /** The question for the core; a text that names what was not understood. */
  function question() {
    const made = { launch: asked.launch, into_s: 0, fan: asked.fan, idle: asked.idle, idle_in_gear: asked.gear };
    made.routes = { none: [], any: ALL_ROUTES }[routeNow()] ?? [routeNow()];
    for (const { key, dimension, field } of numbers) {
      if (asked[key] === null || (asked.launch === EVERY && ["minutes", "pan", "shell"].includes(key))) continue;
      const text = String(asked[key]);
      const value = dimension === "time" ? seconds(text) : core.kelvin(text);
      if (value === undefined) return `${field[0].textContent} “${text}”: not understood. Type ${dimension === "time" ? "minutes, such as 12" : "a temperature, such as 165 or 74 °C"}.`;
      made[{ minutes: "free_s", pan: "pan_k", shell: "shell_k", low: "low_k", high: "high_k" }[key]] = value;
    }
    return made;
  }
  /** Seconds of a written time. */
  function seconds(text) {
    const found = core.restate("time", text, "us");
    return found ? found.value * { s: 1, min: 60, h: 3600 }[found.unit] : undefined;
  }

  let timer;
  function later(delay) {
    clearTimeout(timer);
    timer = setTimeout(run, delay);
  }

  function run() {
    const { state } = store;
    if (!state.result || state.problem?.stale) return;
    if (state.result.summary.launches.length === 0) {
      job.cancel();
      answer = null;
      show("This day has no launch to plan for.");
      return;
    }
    const asks = question();
    if (typeof asks === "string") {
      // An older answer is no answer to this.
      job.cancel();
      answer = null;
      show(asks);
      draw();
      return;
    }
    const text = JSON.stringify(state.scenario);
    const every = asks.launch === EVERY;
    progress.value = 0;
    job.start({ kind: "plan", day: text, asked: asks, every }, {
      progress: (done, of) => {
        progress.max = of;
        progress.value = done;
      },
      finish: (found) => {
        rests = found.rests;
        const isOther = rests.length > 0 && asks.launch !== null && found.launch !== asks.launch;
        if (found.answer && !isOther) {
          answer = found.answer;
          planned = { text, launch: found.launch, scenario: state.scenario };
          asked.launch ??= found.launch;
        } else answer = null;
        showInputs();
        const list = rests.map((rest) => nameOf(rest.launch).toLowerCase()).join(", ");
        show(isOther ? `This round has no rest before a launch to plan. Choose one under After: ${list}.`
          : found.answer ? "" : "No launch of this day has time with the engine off before it.");
        draw();
        if (isFar && innerWidth < 640) out.scrollIntoView({ block: "start" });
        isFar = false;
      },
      fail: (message) => {
        answer = null;
        show(message);
        draw();
      },
    });
    show(null);
  }

  function halt(text) {
    job.cancel();
    show(text);
  }

  function apply() {
    if (!answer) return;
    const { timeline } = JSON.parse(answer.day);
    const label = planned.launch === EVERY ? "Plan of all rests" : `Plan ${nameOf(planned.launch).toLowerCase()}`;
    const asks = JSON.stringify(question());
    const said = attempt((scenario) => (scenario.timeline = timeline), null, label);
    if (!said) applied = { timeline: JSON.stringify(timeline), asks };
    setText(refused, said ? `The plan cannot be put into the day. ${said.advice}` : "");
  }

  function draw() {
    const { hidden } = store.state.view;
    const keys = ["converter_fluid", "pan_fluid"].filter((key) => !hidden.includes(key));
    overlays.put("plan", !answer || isIn() ? [] : keys.map((key) => {
      const { label, light, dark } = looks.find((node) => node.key === key);
      return { node: key, label: `Plan: ${label.toLowerCase()}`, times_s: answer.curves.times_s, value_k: answer.curves[key], light, dark, ...LOOK };
    }));
  }
  /** Whether the day already has the plan. */
  const isIn = () => {
    if (answer === null) return false;
    const now = JSON.stringify(store.state.scenario.timeline);
    // Asked again of the day that it was put into, a plan of all rests may round a time the other way.
    return JSON.stringify(JSON.parse(answer.day).timeline) === now || (applied?.timeline === now && applied.asks === JSON.stringify(question()));
  };

  const nameOf = (launch) => {
    const rest = rests.find((one) => one.launch === launch);
    return rest?.round ? `After round ${rest.round}` : rest?.launch_round ? `Before round ${rest.launch_round}` : `Before launch ${launch + 1}`;
  };

  /** The launch that follows a round's pass; the worker says whether there is a rest between. */
  function launchAfter(round) {
    const { launches } = store.state.result.summary;
    const at = launches.findLastIndex((launch) => launch.round === round);
    return at >= 0 && at + 1 < launches.length ? at + 1 : null;
  }

  let listed = "";
  function showInputs() {
    const { state } = store;
    if (!state.result) return;
    const { summary } = state.result;
    const list = JSON.stringify(rests);
    if (listed !== list) {
      listed = list;
      const option = ({ launch, round, launch_round: next }) => element("option", { value: launch, text: round ? `round ${round}` : next ? `the start, before round ${next}` : `the start, before launch ${launch + 1}` });
      after.replaceChildren(...rests.map(option), ...(rests.length > 1 ? [element("option", { value: EVERY, text: "every round" })] : []));
    }
    // Of a round without a rest nothing is chosen.
    if (asked.launch !== null) after.value = String(asked.launch);
    const every = asked.launch === EVERY;
    for (const node of [...minutes.field, read]) node.hidden = every;
    // A day on the dyno has no launch: then there is nothing to fill in, and the reason stands below.
    for (const node of [now, wanted, onCar]) node.hidden = summary.launches.length === 0;
    if (summary.launches.length === 0) read.hidden = true;
    route.value = routeNow();
    for (const { key, input } of ticks) input.checked = asked[key];
    ticks[2].element.hidden = !asked.idle;
    const rest = rests.find((one) => one.launch === asked.launch);
    const said = answer?.[state.units];
    const otherwise = { minutes: rest ? String(Math.round(rest.length_s / 6) / 10) : "", low: summary.window[0].toFixed(0), high: summary.window[1].toFixed(0) };
    for (const { key, input, unit, dimension } of numbers) {
      setText(unit, dimension === "time" ? "min" : summary.temperature_unit);
      const text = asked[key];
      input.classList.toggle("unstated", text === null);
      if (document.activeElement === input) continue;
      const value = text === null ? null : dimension === "time" ? seconds(String(text)) / 60 : core.restate("temperature", String(text), state.units)?.value;
      input.value = text === null ? otherwise[key] ?? "" : Number.isFinite(value) ? shown(value) : String(text);
    }
    // The answer may still be that of the whole day.
    const isOfRest = said !== undefined && said.pan_computed !== undefined && planned.launch === asked.launch;
    pan.input.placeholder = isOfRest ? said.pan_computed.toFixed(0) : "";
    shell.input.placeholder = isOfRest ? said.shell_computed.toFixed(0) : "";
  }

  /** `said` null leaves what was refused. */
  function show(said) {
    const running = job.running();
    stop.hidden = progress.hidden = !(running && asked.launch === EVERY);
    if (said !== null) setText(refused, said);
    out.classList.toggle("old", running);
    view.show(answer ? { ...answer[store.state.units], every: planned.launch === EVERY, isIn: isIn() } : null, store.state.units);
  }

  store.subscribe((state, changed) => {
    // A reading and a call are those of the day that they were typed for.
    if ("baseline" in changed) {
      asked = { ...asked, launch: null, minutes: null, pan: null, shell: null };
      byHand = { ...byHand, launch: null };
    }
    if ("units" in changed || "result" in changed) showInputs();
    if ("result" in changed && (state.scenario !== planned?.scenario || !answer)) later(asked.launch === EVERY ? AGAIN_MS.every : AGAIN_MS.one);
    if ("units" in changed) show(null);
    if (state.problem?.stale) job.cancel();
  });
  showInputs();
  later(0);

  return {
    /**
     * Fills the blanks in: `round` (or "every"), `minutes`, `pan`, `shell`, `low`, `high`, `route`, `fan`, `idle`; what is not
     * stated is as it was set by hand, else as the day has it. Gives in words what is used besides what was stated.
     */
    ask({ round, ...stated }) {
      const isOfMoment = ["minutes", "pan", "shell"].some((key) => key in stated);
      const rest = rests.find((one) => one.round === round);
      // A call and a reading are of one rest: that before the last launch, unless another was named or chosen.
      const launchNow = byHand.launch === EVERY && isOfMoment ? null : byHand.launch;
      const launch = round === EVERY ? EVERY : rest ? rest.launch : round ? launchAfter(round) ?? NO_LAUNCH : launchNow;
      const states = (...keys) => keys.some((key) => key in stated);
      const range = states("low", "high") ? { low: null, high: null } : {};
      asked = { ...FIRST, ...byHand, ...range, ...stated, launch };
      if (!asked.idle) asked.gear = false;
      const besides = [
        !round && launch === null && isOfMoment && "in the rest before the last launch",
        !round && launch !== null && (launch === EVERY ? "every round, as chosen below" : `${nameOf(launch).toLowerCase()}, as chosen below`),
        !states("low", "high") && (asked.low !== null || asked.high !== null) && `wanted at the launch, as typed below: ${[asked.low !== null && `from ${asked.low}`, asked.high !== null && `to ${asked.high}`].filter(Boolean).join(" ")}`,
        !states("route") && asked.route !== null && `${ROUTES.find(([value]) => value === asked.route)[1]}, as set below`,
        !states("fan") && !asked.fan && "no fan, as set below",
        !states("idle") && !asked.idle && "no idling, as set below",
        asked.gear && "idling in gear, as set below",
      ].filter(Boolean);
      if (stated.minutes) asked.minutes = `${stated.minutes} min`;
      for (const key of ["pan", "shell", "low", "high"]) {
        if (stated[key] && !/[FC]$/.test(stated[key])) asked[key] = `${stated[key]} ${store.state.result?.summary.temperature_unit ?? "°F"}`;
      }
      keep();
      isFar = true;
      showInputs();
      later(0);
      return besides;
    },
  };
}
