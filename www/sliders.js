// A slider with its number box, and the one that a parameter of the core's table has.
//
// Range, label, unit and sentence come from the table. A control that differs from the day as it was opened is marked
// and can be reset by itself. Which statements exclude each other is known to `ways`.
import { nextTry } from "./brought.js";
import { element, freshId, setAttribute, setText } from "./element.js";
import { repeated } from "./history.js";
import { quantityBox, shown } from "./quantity.js";
import { setupValue } from "./scenario.js";
import { differ, waysOf } from "./ways.js";

const same = (a, b) => JSON.stringify(a) === JSON.stringify(b);

/** A label as it stands within a sentence. */
export const inSentence = (label) => (/^[A-Z][a-z]/.test(label) ? label.charAt(0).toLowerCase() + label.slice(1) : label);

/** `tables` are the core's, by units, and `words()` brings their sentences. Gives makers of { element, update(state) }: slider(options), parameter(place in the table). */
export function createSliders({ store, restate, tables, ways, words }) {
  function parameter(place) {
    const row = (units) => tables[units].parameters[place];
    const { part, key, label } = row("us");
    const keys = waysOf(tables.us, part, key);
    const others = tables.us.alternatives.filter((one) => one.part === part && one.instead_of === key);
    const hasOthers = others.length > 0 || tables.us.tables.some((table) => table.part === part);
    const otherWay = (scenario) => {
      const other = others.find((one) => ways.isStated(scenario, one));
      return other ? inSentence(other.label) : "";
    };
    return slider({
      label,
      sentence() {
        const { min, max, unit, sentence, source } = { ...row("us"), ...row(store.state.units) };
        return sentence && `${sentence} From ${shown(min)} to ${shown(max)}${unit && ` ${unit}`}. Default from: ${source}.`;
      },
      path: `${part}.${key}`,
      field: () => `setup.${part}.${key}`,
      row: (state) => row(state.units),
      boxRow: row,
      read: (scenario) => setupValue(scenario, part, key),
      write: (scenario, value) => ways.stateParameter(scenario, part, key, value),
      standing: (state) =>
        state.result && !ways.replacedBy(state.scenario, part, key)
          ? { value: state.result.values[place], unit: row(state.units).unit }
          : null,
      changed: (state) => differ(part, keys, state),
      reset: (scenario, baseline) => ways.restore(scenario, baseline, part, keys),
      otherWay,
      replaced: (scenario) => Boolean(ways.replacedBy(scenario, part, key)),
      note: hasOthers
        ? ({ scenario }) => {
            const table = ways.replacedBy(scenario, part, key);
            if (table) return `“${table.label}” takes its place.`;
            const way = otherWay(scenario);
            return way && `Stated ${way}.`;
          }
        : null,
    });
  }

  function slider(options) {
    const { label, path, read, write } = options;
    const baselineText = (state) => (options.readBaseline ?? ((baseline) => read(baseline)))(state.baseline, state.scenario);
    const id = freshId("slider");
    const box = quantityBox({
      store,
      restate,
      label: `${label}, number`,
      entry: label,
      path,
      field: options.field,
      read,
      write,
      row: options.boxRow,
      standing: options.standing,
    });
    const name = element("label", { for: id, text: label });
    const range = element("input", {
      type: "range",
      id,
      on: {
        // One drag is one entry of undo, and so are keys in a row.
        pointerdown: () => ([drag, before] = [Symbol("drag"), store.state.scenario]),
        change: () => (drag = null),
        // A swipe that turned out to scroll the page has moved nothing.
        pointercancel: () => {
          if (drag && store.state.scenario !== before) store.replace({ scenario: before }, { label, gesture: drag });
          drag = null;
        },
        input: () => {
          const unit = box.current()?.unit ?? "";
          const value = unit === "" ? Number(range.value) : `${range.value} ${unit}`;
          store.edit((scenario) => write(scenario, value), drag ?? again(), label);
        },
      },
    });
    let drag = null;
    let before = null;
    const again = repeated();
    const help = element("p", { class: "help", id: freshId("help"), hidden: true });
    const explain = (otherwise) => setText(help, options.sentence() ?? otherwise);
    const missing = (why) => explain(`This text could not be loaded. ${nextTry(why, "Try again in a moment.")}`);
    const ask = element("button", {
      type: "button",
      class: "ask",
      "aria-label": `About ${label}`,
      "aria-expanded": "false",
      "aria-controls": help.id,
      text: "?",
      on: {
        click: () => {
          help.hidden = !help.hidden;
          explain("Loading…");
          words().then(missing, missing);
          ask.setAttribute("aria-expanded", String(!help.hidden));
        },
      },
    });
    const reset = element("button", {
      type: "button",
      class: "reset",
      text: "reset",
      on: {
        click: () => {
          store.edit((scenario) => {
            if (options.reset) options.reset(scenario, store.state.baseline);
            else write(scenario, baselineText(store.state));
          }, null, `Reset ${label}`);
          range.focus();
        },
      },
    });
    const note = options.note ? element("p", { class: "help" }) : null;
    const node = element(
      "div",
      { class: "control", data: { path } },
      name,
      box.element,
      ask,
      range,
      reset,
      note,
      help,
    );
    const control = {
      element: node,
      update(state) {
        node.hidden = options.absent?.(state.scenario) ?? false;
        if (node.hidden) return;
        if (options.name) setText(name, options.name(state.scenario));
        if (!help.hidden) explain(help.textContent);
        box.update(state);
        if (note) {
          setText(note, options.note(state));
          note.hidden = note.textContent === "";
        }
        const replaced = options.replaced?.(state.scenario) ?? false;
        range.disabled = box.input.disabled = replaced;
        node.classList.toggle("replaced", replaced);
        const current = box.current();
        const row = options.row(state, current);
        if (current) {
          const outside = current.value < row.slider_min || current.value > row.slider_max;
          setAttribute(range, "min", String(outside ? Math.min(row.min ?? row.slider_min, current.value) : row.slider_min));
          setAttribute(range, "max", String(outside ? Math.max(row.max ?? row.slider_max, current.value) : row.slider_max));
          setAttribute(range, "step", String(row.step));
          if (Number(range.value) !== current.value) range.value = current.value;
          setAttribute(range, "aria-valuetext", `${shown(current.value)} ${current.unit}`.trim());
        }
        const before = baselineText(state);
        const changed = !replaced && (options.changed?.(state) ?? !same(read(state.scenario), before));
        node.classList.toggle("changed", changed);
        reset.hidden = !changed;
        const back = before === undefined ? null : restate(path, String(before), state.units);
        setAttribute(reset, "aria-label", `Reset ${label}${back ? ` to ${back.text}` : ""}`);
        setAttribute(reset, "title", `as opened: ${back?.text ?? (options.otherWay?.(state.baseline) || "default")}`);
      },
    };
    return control;
  }

  return { slider, parameter };
}
