// A number box with its unit: the one way a quantity is typed.
//
// It shows the scenario's text restated in the reader's units and writes back what was typed: a bare number
// gets the unit shown, a number with a unit ("35 C") stays as it is. While typing, whatever is understood
// and allowed takes effect at once; the rest is stored on Enter or when leaving the box, and the core then
// says what is wrong with it. The unit shown when typing began holds until then, whatever unit the half-typed
// number would read best in.
import { element, freshId } from "./element.js";
import { repeated } from "./history.js";

const NUMBER = /^[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?$/i;

/** A restated number as shown: short enough to be read whole. The scenario keeps what was written. */
export function shown(value) {
  return String(Math.abs(value) < 1000 ? Number(value.toPrecision(4)) : Math.round(value));
}

/** A whole number as shown. */
export const whole = (value) => value.toFixed(0).replace("-", "−");

/** What a typed text means for the scenario; undefined takes the statement out. */
export function written(typed, unit) {
  // A comma before three digits parts thousands, any other is a decimal one.
  const text = typed.trim().replace(/^−/, "-").replace(/^([+-]?\d{1,3}),(\d{3})(?!\d)/, "$1$2").replace(/^([+-]?\d*),(\d)/, "$1.$2");
  if (text === "") return undefined;
  // Minutes and seconds, wherever a time is typed.
  const [, minutes, seconds] = (["s", "min", "h"].includes(unit) && text.match(/^(\d{1,4}):([0-5]\d)$/)) || [];
  if (seconds !== undefined) return `${60 * Number(minutes) + Number(seconds)} s`;
  if (!NUMBER.test(text)) return text;
  return unit === "" ? Number(text) : `${text} ${unit}`;
}

/**
 * `options`: store, restate(path, text, units); label; entry (as undo names it, else the label); path (of restate); field, or field(scenario) (as errors name it);
 * read(scenario) → text or undefined; write(scenario, value); row(units) → { unit, min, max, step } or null;
 * standing(state) → { value, unit } that holds when nothing is stated, or null.
 *
 * Gives { element, input, update(state), nudge(steps), current() → { value, unit } or null }.
 */
export function quantityBox(options) {
  const { store, restate, label, path, field, read, write } = options;
  const unit = element("span", { class: "unit" });
  unit.id = freshId("unit");
  const input = element("input", {
    type: "text",
    inputmode: "decimal",
    autocomplete: "off",
    spellcheck: "false",
    class: "number",
    "aria-label": label,
    "aria-describedby": unit.id,
    data: { unit: unit.id },
    on: {
      input: () => {
        if (typedIn === null) [typedIn, typing] = [unitNow(), Symbol("typing")];
        const row = options.row?.(store.state.units);
        const value = written(input.value, typedIn);
        const known = value === undefined ? null : restate(path, String(value), store.state.units);
        const allowed = known && (row ? known.value >= row.min && known.value <= row.max : known.value > 0);
        if (allowed) put(value, typing);
      },
      change: commit,
      blur: commit,
      keydown: (event) => {
        const direction = { ArrowUp: 1, ArrowDown: -1 }[event.key];
        if (event.key === "Enter") commit();
        else if (direction) {
          event.preventDefault();
          commit();
          nudge(direction * (event.shiftKey ? 10 : 1));
        }
      },
      focus: () => input.select(),
    },
  });
  let typedIn = null; // the unit that holds while typing, or null
  let typing = null; // what is typed in one go is one entry of undo
  const again = repeated();
  let latest = null;
  let blank = false;

  function unitNow() {
    return latest?.unit ?? options.row?.(store.state.units)?.unit ?? "s";
  }
  function put(value, gesture) {
    if (JSON.stringify(value) !== JSON.stringify(read(store.state.scenario))) {
      store.edit((scenario) => write(scenario, value), gesture, options.entry ?? label);
    }
  }
  function commit() {
    if (typedIn === null) return;
    const value = written(input.value, typedIn);
    typedIn = null;
    // A quantity that has nothing to fall back on keeps its text when the box is emptied.
    if (value !== undefined || blank) put(value, typing);
    update(store.state);
  }
  function nudge(steps) {
    if (!latest) return;
    const row = options.row?.(store.state.units);
    const step = row?.step ?? (latest.unit === "s" && latest.value < 20 ? 0.5 : latest.unit === "s" ? 5 : 1);
    let value = Number((latest.value + steps * step).toPrecision(9));
    if (row) value = Math.min(row.max, Math.max(row.min, value));
    else if (value <= 0) value = latest.value > step / 5 ? Number((latest.value / 2).toPrecision(2)) : latest.value;
    put(latest.unit === "" ? value : `${value} ${latest.unit}`, again());
  }
  // What was written in the unit shown stands as it was written.
  function numberText(text, value) {
    return Number.parseFloat(text) === value ? String(value) : shown(value);
  }
  function update(state) {
    const text = read(state.scenario);
    const standing = text === undefined ? options.standing?.(state) ?? null : null;
    blank = Boolean(options.standing);
    latest = text === undefined ? standing : restate(path, String(text), state.units);
    input.classList.toggle("unstated", text === undefined);
    const place = (typeof field === "function" ? field(state.scenario) : field) ?? "";
    if (input.dataset.field !== place) input.dataset.field = place;
    if (typedIn !== null) return;
    const value = latest ? numberText(text, latest.value) : text === undefined ? "" : String(text);
    if (input.value !== value) input.value = value;
    const symbol = latest?.unit ?? "";
    if (unit.textContent !== symbol) unit.textContent = symbol;
  }

  return {
    element: element("span", { class: "quantity" }, input, unit),
    input,
    update,
    nudge,
    current: () => latest,
  };
}
