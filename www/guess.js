// Guess first: the reader says how hot the converter will be at three moments while the lines of the chart are hidden,
// then sees the run. The guess stays drawn and in words until it is cleared.
//
// It is an invitation: the page opens with a finished day. The guess is kept as it was written, and stands
// at the same moments of the day when the day is edited.
import { element, freshId, setText } from "./element.js";
import { shown, written } from "./quantity.js";

const NODE = "converter_fluid";
const LOOK = { light: "rgb(92, 60, 140)", dark: "rgb(200, 176, 255)", width: 2.5, dash: [3, 3] };
// Ends of the sliders, as restated for the reader, and where they stand before the guess.
const [LEAST, MOST, FIRST] = ["60 °F", "400 °F", "200 °F"];

/** The moments guessed at: [{ key, label, time_s }], end of the hold, of the pass, of the turnaround of the first round. */
export function momentsOf({ events }) {
  const hold = events.find((event) => event.kind === "brake_hold");
  const pass = events.find((event) => ["pass", "dyno_pull"].includes(event.kind) && (!hold || event.start_s >= hold.start_s));
  const round = (pass ?? hold)?.round;
  const last = round ? events.findLast((event) => event.round === round) : events.at(-1);
  const after = pass ?? hold;
  return [
    hold && { key: "hold", label: "End of the hold on the brake", time_s: hold.end_s },
    pass && { key: "pass", label: pass.kind === "pass" ? "End of the pass" : "End of the pull", time_s: pass.end_s },
    after && last && last.end_s > after.end_s && { key: "turnaround", label: round ? "End of the turnaround" : "End of the day", time_s: last.end_s },
  ].filter(Boolean);
}

export function createGuess({ store, core, overlays, day, kept }, root) {
  const before = kept.get("guess");
  const isText = (value) => typeof value === "string" && core.kelvin(value) !== undefined;
  let guess = before && typeof before === "object" ? Object.fromEntries(Object.entries(before).filter(([, value]) => isText(value))) : {};
  let guessing = false;

  const button = (id, text, act) => element("button", { type: "button", class: "plain", id, text, on: { click: act } });
  const begin = button("guess-begin", "Guess first", () => {
    guessing = true;
    guess = Object.fromEntries(momentsOf(store.state.result.summary).map(({ key }) => [key, guess[key] ?? FIRST]));
    overlays.hideLines(true);
    // The first round fills the chart, so that the guess has room.
    const { round } = store.state.result.summary.events.find((event) => event.round) ?? {};
    if (round) store.view({ range: { round } });
    show(store.state);
    fields[0]?.input.focus();
  });
  const finish = button("guess-show", "Show the run", () => done(true));
  const skip = button("guess-skip", "Skip", () => done(false));
  const clear = button("guess-clear", "Clear the guess", () => {
    guess = {};
    kept.set("guess", guess);
    show(store.state);
    begin.focus();
  });
  const question = element("p", { text: "How hot is the converter in the first round? The lines are hidden until you show the run." });
  const boxes = element("div", { class: "guesses", id: "guess-boxes" });
  const says = element("p", { class: "what-if-says", id: "guess-says", role: "status" });
  const list = element("ul", { class: "changes", id: "guess-list", "aria-label": "Your guess and the run" });
  root.append(question, boxes, element("div", { class: "moves" }, begin, finish, skip, clear), says, list);

  function done(shows) {
    guessing = false;
    if (!shows) guess = {};
    kept.set("guess", guess);
    overlays.hideLines(false);
    show(store.state);
    begin.focus();
  }

  const number = (text, units) => core.restate("temperature", text, units);
  let fields = [];
  let built = "";
  function build(state) {
    const moments = momentsOf(state.result.summary);
    const shape = JSON.stringify([state.units, moments]);
    if (built === shape) return;
    built = shape;
    fields = moments.map(({ key, label, time_s: time }) => {
      const [least, most] = [LEAST, MOST].map((text) => Math.round(number(text, state.units).value));
      const { unit } = number(FIRST, state.units);
      const id = freshId("guess");
      const put = (text) => {
        guess = { ...guess, [key]: text };
        draw(store.state);
        update();
      };
      const range = element("input", {
        type: "range", id, min: least, max: most, step: 1, data: { guess: key },
        on: { input: () => put(`${range.value} ${unit}`) },
      });
      const input = element("input", {
        type: "text", class: "number", inputmode: "decimal", autocomplete: "off", "aria-label": `${label}, number`,
        on: {
          input: () => {
            const text = written(input.value, unit);
            if (isText(text)) put(text);
          },
          change: update,
          blur: () => update(true),
          focus: () => input.select(),
          keydown: (event) => event.key === "Enter" && done(true),
        },
      });
      function update(whole = false) {
        const now = number(guess[key] ?? FIRST, store.state.units);
        if (whole === true || document.activeElement !== input) input.value = shown(Math.round(now.value));
        range.value = now.value;
        range.setAttribute("aria-valuetext", `${Math.round(now.value)} ${unit}`);
      }
      const name = element("label", { for: id, text: `${label}, ${core.clock(time)}` });
      return { input, update, element: element("div", { class: "control" }, name, element("span", { class: "quantity" }, input, element("span", { class: "unit", text: unit })), range) };
    });
    boxes.replaceChildren(...fields.map((field) => field.element));
  }

  function draw(state) {
    const points = momentsOf(state.result.summary).filter(({ key }) => key in guess);
    overlays.put("guess", points.length === 0 ? [] : [{
      node: NODE, label: "Your guess", times_s: points.map(({ time_s: time }) => time), value_k: points.map(({ key }) => core.kelvin(guess[key])), ...LOOK,
    }]);
  }

  function show(state) {
    const moments = momentsOf(state.result.summary);
    build(state);
    for (const field of fields) field.update(true);
    const has = moments.some(({ key }) => key in guess);
    question.hidden = boxes.hidden = finish.hidden = skip.hidden = !guessing;
    begin.hidden = guessing;
    begin.disabled = moments.length === 0;
    setText(begin, has ? "Guess again" : "Guess first");
    clear.hidden = guessing || !has;
    draw(state);
    const told = guessing ? [] : moments.filter(({ key }) => key in guess).map((one) => {
      const { value: said, unit } = number(guess[one.key], state.units);
      const is = core.temperature(day().series(NODE, Float64Array.of(one.time_s))[0], state.units);
      const off = Math.round(said) - Math.round(is);
      const how = off === 0 ? "right" : `${Math.abs(off)} too ${off > 0 ? "high" : "low"}`;
      return { off: Math.abs(off), unit, text: `${one.label}: you said ${Math.round(said)}, it is ${Math.round(is)} ${unit}, ${how}.` };
    });
    list.replaceChildren(...told.map(({ text }) => element("li", { text })));
    setText(says, moments.length === 0 ? "This day has neither hold nor pass to guess at."
      : told.length > 0 ? `On the mean ${Math.round(told.reduce((sum, { off }) => sum + off, 0) / told.length)} ${told[0].unit} off.` : "");
  }

  store.subscribe((state, changed) => {
    if (state.result && day() && ("result" in changed || "units" in changed)) show(state);
  });
  if (store.state.result) show(store.state);
}
