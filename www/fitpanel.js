// Fit: the set-up moved until the day agrees with the readings, in a worker; put into the day only by a button.
import { element, setText } from "./element.js";
import { createFitAnswer } from "./fitanswer.js";
import { sameScenario, textOf } from "./history.js";
import { createJob } from "./job.js";
import { bare } from "./readingrows.js";

/** `parameters` are those that may move: [{ path, part, label }]; `leaveOut(at, out)` changes a reading. */
export function createFitPanel({ store, attempt, parameters, leaveOut }, root) {
  const job = createJob();
  let free = null; // paths, or null for all that the readings feel
  let found = null; // { us, si, day, key }
  let used = null; // the fitted day, once it is put in
  let runs = null; // the key of what is computed
  let again = false; // another fit is asked for as soon as the readings have changed

  const go = element("button", { type: "button", class: "plain", id: "fit-run", text: "Fit", on: { click: () => run() } });
  const stop = element("button", { type: "button", class: "plain", id: "fit-stop", text: "Stop", hidden: true, on: { click: () => halt("Stopped.") } });
  const progress = element("progress", { "aria-label": "Fitting", hidden: true });
  const count = element("span", { class: "help", id: "fit-days" });
  const says = element("p", { class: "reading-says fit-says", id: "fit-says", role: "status" });
  const use = element("button", { type: "button", class: "plain", id: "fit-use", hidden: true, on: { click: () => putIn() } });
  const more = element("p", { class: "help", id: "fit-use-help", hidden: true, text: "The numbers above go into the set-up, with what is known of them for the bands. Undo takes it back." });
  const out = element("div", { class: "fit-answer" });
  const boxes = parameters.map(({ path, part, label }) => {
    const input = element("input", { type: "checkbox", data: { free: path }, on: { change: () => pick() } });
    return { path, input, element: element("li", {}, element("label", {}, input, element("span", { text: `${part}: ${label.charAt(0).toLowerCase()}${label.slice(1)}` }))) };
  });
  const all = element("input", { type: "checkbox", checked: true, id: "fit-all", on: { change: () => pick(true) } });
  const chosen = element("span", { class: "count" });
  root.append(
    element("p", { class: "help", text: "Moves what a shop does not know for certain until the computed day shows what you read, each number no farther than the readings call for." }),
    element("details", { class: "note", id: "fit-free" },
      element("summary", {}, element("span", { text: "What may move" }), chosen),
      element("label", { class: "ticked" }, all, element("span", { text: "All that the readings feel" })),
      element("ul", { class: "spreads" }, ...boxes.map((box) => box.element))),
    element("div", { class: "moves" }, go, stop, progress, count), says, element("div", { class: "moves" }, use), more, out,
  );
  const view = createFitAnswer({ leaveOut: (at, left) => {
    again = true;
    leaveOut(at, left);
  } }, out);

  function pick(byAll = false) {
    const paths = boxes.filter(({ input }) => input.checked).map(({ path }) => path);
    free = byAll && all.checked ? null : paths.length > 0 ? paths : null;
    all.checked = free === null;
    if (free === null) for (const { input } of boxes) input.checked = false;
    show(null);
  }

  const askedOf = ({ readings: { rows, start } }) => ({
    start, readings: rows.map(bare), without: rows.flatMap((row, at) => (row.out ? [at] : [])), ...(free ? { free } : {}),
  });
  const keyOf = (state, day = textOf(state.scenario)) => JSON.stringify([askedOf(state), day]);

  function run() {
    const { state } = store;
    if (!state.result || state.problem?.stale || state.readings.rows.length === 0) return;
    const key = keyOf(state);
    const day = textOf(state.scenario);
    runs = key;
    setText(count, "");
    const width = Math.round(Math.min(680, Math.max(260, root.clientWidth - 16)));
    job.start({ kind: "fit", day, asked: askedOf(state), width }, {
      progress: (done) => setText(count, `${done} days computed`),
      finish: (result) => {
        [found, used] = [{ ...result, key, of: day }, null];
        view.show(found[store.state.units]);
        show(found[store.state.units].said.headline);
      },
      fail: (message) => halt(`${message.charAt(0).toUpperCase()}${message.slice(1)}`),
    });
    show(null);
  }

  function halt(text) {
    job.cancel();
    found = null;
    view.show(null);
    show(text);
  }

  const isIn = () => used !== null && sameScenario(used, store.state.scenario);
  const isOld = () => found.key !== keyOf(store.state, isIn() ? found.of : textOf(store.state.scenario));

  /** `text` null leaves the sentence, unless the answer is old. */
  function show(text) {
    const { state } = store;
    const running = job.running();
    const usable = state.readings.rows.filter((row) => !row.out).length;
    stop.hidden = progress.hidden = count.hidden = !running;
    go.hidden = running;
    go.disabled = usable === 0 || Boolean(state.problem?.stale);
    setText(go, `Fit to ${usable} ${usable === 1 ? "reading" : "readings"}`);
    setText(chosen, free ? `${free.length} chosen` : "all that is felt");
    const old = found !== null && isOld();
    out.classList.toggle("old", old || running);
    if (running) setText(says, "Fitting…");
    else if (old) setText(says, `The day, the readings or what may move have changed: fit again. Before: ${found[state.units].said.headline}`);
    else if (text !== null) setText(says, text);
    else if (found) setText(says, found[state.units].said.headline);
    use.hidden = more.hidden = !found || old || running;
    setText(use, isIn() ? "This fit is in the day" : "Use this fit");
    use.disabled = isIn();
  }

  function putIn() {
    const fitted = JSON.parse(found.day);
    const many = found[store.state.units].said.readings.filter((one) => !one.left_out).length;
    const said = attempt((scenario) => {
      for (const key of Object.keys(scenario)) delete scenario[key];
      Object.assign(scenario, fitted);
    }, null, "Fit", () => null, `The set-up is fitted to ${many} readings now; bands use what the fit knows.`);
    if (said) show(`The fit cannot be put into the day. ${said.advice}`);
    else {
      used = store.state.scenario;
      show(null);
    }
  }

  let { units } = store.state;
  store.subscribe((state, changed) => {
    if (!["units", "result", "problem", "readings", "scenario"].some((key) => key in changed)) return;
    if (job.running() && runs !== keyOf(state)) halt("The day or the readings have changed: fit again.");
    if (found && state.units !== units) view.show(found[state.units]);
    units = state.units;
    show(found || job.running() ? null : "");
    if (again && "readings" in changed) {
      again = false;
      run();
    }
  });
  show("");
}
