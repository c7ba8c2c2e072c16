// What is written down of a bench test: who and what, the steps with their results, pressures, remarks.
import { element, freshId } from "./element.js";

/** Nothing written yet. */
export const emptyBench = () => ({ unit: {}, customer: {}, tested: {}, checks: {}, pressures: [], remarks: "" });

const GROUPS = { unit: "Unit", customer: "Customer", tested: "Test" };

/** `changed(bench)` hears every change; `words(…)` brings labels from the core, `fill(bench)` shows a record. */
export function createBenchForm({ changed }) {
  let bench = emptyBench();
  let said = null;
  const root = element("div", { class: "bench-form" });

  const set = (next) => {
    bench = next;
    changed(bench);
  };

  function field(group, { key, label }) {
    const input = element("input", {
      type: key === "date" ? "date" : "text", id: freshId("bench"), maxlength: 200, autocomplete: "off", value: bench[group][key] ?? "", data: { bench: `${group}.${key}` },
      on: { input: () => set({ ...bench, [group]: { ...bench[group], [key]: input.value } }) },
    });
    return element("p", { class: "bench-field" }, element("label", { for: input.id, text: label }), input);
  }

  function step(check) {
    const name = freshId("step");
    const now = bench.checks[check.key] ?? { result: "not_done" };
    const note = element("input", {
      type: "text", maxlength: 200, "aria-label": `${check.label}: what was seen`, placeholder: "what was seen", value: now.note ?? "", hidden: now.result !== "not_as_expected" && !now.note, data: { note: check.key },
      on: { input: () => put({ note: note.value }) },
    });
    const put = (part) => {
      const next = { ...(bench.checks[check.key] ?? { result: "not_done" }), ...part };
      if (!next.note) delete next.note;
      const checks = { ...bench.checks, [check.key]: next };
      if (next.result === "not_done" && !next.note) delete checks[check.key];
      note.hidden = next.result !== "not_as_expected" && !next.note;
      set({ ...bench, checks });
    };
    const choices = said.outcomes.map(({ key, label }) => {
      const radio = element("input", { type: "radio", name, id: freshId("result"), value: key, checked: now.result === key, on: { change: () => put({ result: key }) }, data: { check: `${check.key}.${key}` } });
      return [radio, element("label", { for: radio.id, text: label })];
    });
    return element("fieldset", { class: "bench-step" },
      element("legend", {}, element("strong", { text: check.label }), " ", element("span", { class: "help", text: check.sentence })),
      element("span", { class: "bench-results" }, ...choices.flat()), note);
  }

  function pressure(place) {
    const row = bench.pressures[place];
    const put = (key, value) => set({ ...bench, pressures: bench.pressures.map((one, at) => (at === place ? { ...one, [key]: value } : one)) });
    const box = (key, label, example) => {
      const input = element("input", { type: "text", "aria-label": `${label}, pressure ${place + 1}`, placeholder: example, autocomplete: "off", value: row[key] ?? "", data: { pressure: `${place}.${key}` }, on: { input: () => put(key, input.value.trim()) } });
      return input;
    };
    const port = element("select", { "aria-label": `Port, pressure ${place + 1}`, data: { pressure: `${place}.port` }, on: { change: () => put("port", port.value) } },
      ...said.ports.map(({ key, label }) => element("option", { value: key, text: label, selected: row.port === key })));
    const remove = element("button", { type: "button", class: "plain", "aria-label": `Remove pressure ${place + 1}`, text: "Remove", on: { click: () => {
      set({ ...bench, pressures: bench.pressures.filter((one, at) => at !== place) });
      draw();
    } } });
    return element("li", { class: "bench-pressure" }, box("time", "Time", "12:30"), port, box("gear", "Gear", "gear"), box("shown", "Shown", "195 psi"), remove);
  }

  function draw() {
    if (!said) return;
    const groups = Object.entries(GROUPS).map(([group, title]) =>
      element("fieldset", { class: "bench-group" }, element("legend", { text: title }), ...said.entries.filter((entry) => entry.group === group).map((entry) => field(group, entry))));
    const whens = [...new Set(said.checks.map(({ when }) => when))];
    const done = Object.values(bench.checks).filter(({ result }) => result !== "not_done").length;
    const steps = element("details", { class: "note", id: "bench-steps", open: root.querySelector("#bench-steps")?.open ?? false },
      element("summary", {}, element("span", { text: `Steps: ${done} of ${said.checks.length} done` })),
      ...whens.flatMap((when) => [element("h3", { text: when }), ...said.checks.filter((check) => check.when === when).map(step)]));
    const add = element("button", { type: "button", class: "plain", id: "bench-add-pressure", text: "Add a pressure", on: { click: () => {
      const last = bench.pressures.at(-1);
      set({ ...bench, pressures: [...bench.pressures, { time: "", port: last?.port ?? "line", gear: "", shown: "" }] });
      draw();
      root.querySelector(`[data-pressure="${bench.pressures.length - 1}.time"]`).focus();
    } } });
    const remarks = element("textarea", { id: freshId("remarks"), rows: 3, maxlength: 2000, data: { bench: "remarks" }, on: { input: () => set({ ...bench, remarks: remarks.value }) } });
    remarks.value = bench.remarks;
    root.replaceChildren(
      element("div", { class: "bench-groups" }, ...groups), steps,
      element("h3", { text: "Pressures" }),
      element("p", { class: "help", text: "Time as on the stopwatch, the gear in your own words, the pressure with its unit. The same gears cold and hot tell most." }),
      element("ol", { class: "bench-pressures" }, ...bench.pressures.map((_, place) => pressure(place))),
      element("div", { class: "moves" }, add),
      element("p", { class: "bench-field" }, element("label", { for: remarks.id, text: "Remarks" }), remarks),
    );
  }

  return {
    element: root,
    words(words) {
      said = words;
      draw();
    },
    fill(next) {
      bench = next;
      draw();
    },
  };
}
