// One reading, typed: place by big buttons, time by the stopwatch, what was shown, on which surface; the rest behind a
// disclosure. What the spot had is said by the core while it is typed.
import { element, freshId, setText } from "./element.js";
import { written } from "./quantity.js";
import { createStopwatch } from "./stopwatch.js";

const EMPTY = { time: "", place: null, shown: "", surface: null, emissivity: "", setting: "", surroundings: "", deviation: "", note: "" };
const FIELDS = {
  time: ["Time, min:s", "text"], shown: ["It showed", "decimal"], emissivity: ["Emissivity of the spot", "decimal"], setting: ["Gun set to", "decimal"],
  surroundings: ["Walls and engine beside it", "decimal"], deviation: ["Its error, one in three is larger", "decimal"], note: ["Note", "text"],
};

/** A time as it is typed: a bare number is minutes. */
const timeOf = (text) => (/^\d+([.,]\d+)?$/.test(text.trim()) ? `${text.trim().replace(",", ".")} min` : text.trim());

// What is half typed, over a reload.
const KEY = "stallheat.reading.1";
function kept() {
  try {
    const found = JSON.parse(sessionStorage.getItem(KEY));
    const texts = Object.entries(EMPTY).map(([key, empty]) => [key, typeof found?.[key] === "string" ? found[key] : empty]);
    return Object.fromEntries(texts);
  } catch {
    return { ...EMPTY };
  }
}
function keep(draft) {
  try {
    sessionStorage.setItem(KEY, JSON.stringify(draft));
  } catch {
    // Blocked or full: it lasts until the page is left.
  }
}

/** `words` are the core's; `unit()` is °F or °C; `look()` asks for a check; `save(reading, at)` takes one over. */
export function createReadingForm({ words, unit, look, save }) {
  let draft = kept();
  let at = null; // the row that is changed
  let typedIn = unit();

  const stopwatch = createStopwatch({ changed: () => (now.disabled = stopwatch.text() === null) });
  const places = words.places.map(({ key, label }) => element("button", {
    type: "button", class: "place", text: label, "aria-pressed": "false", data: { place: key }, on: { click: () => choose(key) },
  }));
  const fields = {};
  for (const [key, [label, mode]] of Object.entries(FIELDS)) {
    const [error, more] = [freshId("reading"), freshId("reading")];
    const says = element("p", { class: "field-error", id: error });
    const sign = element("span", { class: "unit", id: more });
    const input = element("input", {
      type: "text", class: mode === "text" && key === "note" ? "link-text" : "number", id: freshId("reading"), inputmode: mode, autocomplete: "off", spellcheck: "false",
      "aria-describedby": `${more} ${error}`, data: { reading: key },
      on: {
        input: () => put(key, input.value),
        keydown: (event) => event.key === "Enter" && add(),
      },
    });
    fields[key] = { input, says, sign, element: element("div", { class: "field" }, element("label", { class: "field-name", for: input.id, text: label }), element("span", { class: "quantity" }, input, sign), says) };
  }
  fields.note.input.maxLength = 200;
  const surface = element("select", { id: freshId("reading"), data: { reading: "surface" }, on: { change: () => put("surface", surface.value) } },
    ...words.surfaces.map(({ key, label, emissivity }) => element("option", { value: key, text: emissivity === null ? label : `${label} (${emissivity.toFixed(2)})` })));
  const surfaceSays = element("p", { class: "help" });
  const now = element("button", { type: "button", class: "plain", id: "reading-now", text: "Now", disabled: stopwatch.text() === null, on: { click: () => {
    fields.time.input.value = stopwatch.text();
    put("time", fields.time.input.value);
    fields.shown.input.focus();
  } } });
  fields.time.input.parentNode.append(now);
  const says = element("p", { class: "reading-says", id: "reading-says" });
  const refused = element("p", { class: "field-error", id: "reading-refused", role: "status" });
  const go = element("button", { type: "button", class: "plain", id: "reading-add", on: { click: () => add() } });
  const stop = element("button", { type: "button", class: "plain", id: "reading-stop", text: "Leave it as it was", on: { click: () => clear() } });
  const gun = element("div", { class: "fields" }, fields.emissivity.element, fields.setting.element, fields.surroundings.element);
  const node = element("div", { class: "reading-form" },
    stopwatch.element,
    element("div", { class: "place-buttons", role: "group", "aria-label": "Place" }, ...places),
    fields.time.element, fields.shown.element,
    element("div", { class: "field" }, element("label", { class: "field-name", for: surface.id, text: "On" }), surface, surfaceSays),
    says,
    element("details", { class: "part", id: "reading-more" }, element("summary", {}, element("span", { text: "Gun setting, surroundings, error, note" })),
      gun, element("div", { class: "fields" }, fields.deviation.element, fields.note.element)),
    refused,
    element("div", { class: "moves" }, go, stop),
  );

  function choose(key) {
    const place = words.places.find((one) => one.key === key);
    const was = words.places.find((one) => one.key === draft.place);
    draft = { ...draft, place: key };
    // A gauge sits where gauges sit; elsewhere the last kind of spot is likely the next.
    if (place.gauged) draft.surface = "contact";
    else if (!draft.surface || was?.gauged) draft.surface = "tape";
    show();
    look();
  }

  function put(key, value) {
    draft = { ...draft, [key]: value };
    if (at === null) keep(draft);
    if (key === "surface") show();
    look();
  }

  /** The reading as it is typed; null while there is nothing to look at. */
  function reading() {
    if (!draft.place || draft.shown.trim() === "") return null;
    const infrared = draft.surface !== "contact";
    const degrees = (text) => { const value = written(text, typedIn); return value === undefined ? undefined : String(value); };
    const number = (text) => { const value = written(text, ""); return value === undefined ? undefined : value; };
    const made = {
      time: timeOf(draft.time), place: draft.place, shown: degrees(draft.shown), surface: draft.surface,
      ...(infrared ? { emissivity: number(draft.emissivity), setting: number(draft.setting), surroundings: degrees(draft.surroundings) } : {}),
      deviation: degrees(draft.deviation), note: draft.note.trim() || undefined,
    };
    return Object.fromEntries(Object.entries(made).filter(([, value]) => value !== undefined));
  }

  function add() {
    const missing = !draft.place ? "Choose the place first." : draft.shown.trim() === "" ? "Type what it showed." : draft.time.trim() === "" ? "Type the time since the stopwatch was started, such as 12:30, or tap Now." : null;
    if (missing) {
      setText(refused, missing);
      return;
    }
    save(reading(), at, (error) => {
      if (!error) {
        clear(true);
        return;
      }
      mark(error);
    });
  }

  function mark(error) {
    for (const { input, says: said } of Object.values(fields)) {
      input.removeAttribute("aria-invalid");
      setText(said, "");
    }
    const field = error ? fields[error.key] : null;
    const text = error ? `${error.value}: ${error.limit}. ${error.remedy}` : "";
    if (field) {
      field.input.setAttribute("aria-invalid", "true");
      setText(field.says, text);
    }
    setText(refused, field ? "" : text);
    if (["emissivity", "setting", "surroundings", "deviation", "note"].includes(error?.key)) node.querySelector("#reading-more").open = true;
  }

  /** After a reading the place, the surface and the gun stay: the next is likely of the same kind. */
  function clear(after = false) {
    draft = after && at === null ? { ...draft, time: "", shown: "", note: "" } : { ...EMPTY, place: draft.place, surface: draft.surface };
    at = null;
    typedIn = unit();
    fill();
    mark(null);
    setText(says, "");
    if (after) fields.shown.input.blur();
  }

  function fill() {
    for (const [key, { input }] of Object.entries(fields)) input.value = draft[key];
    show();
  }

  function show() {
    // What is changed in a row of the list stays there until it is taken over.
    if (at === null) keep(draft);
    for (const button of places) button.setAttribute("aria-pressed", String(button.dataset.place === draft.place));
    const known = words.surfaces.find(({ key }) => key === draft.surface);
    surface.value = draft.surface ?? "tape";
    gun.hidden = draft.surface === "contact";
    setText(surfaceSays, known?.emissivity ? `Emissivity ${known.emissivity.toFixed(2)} ± ${Number(known.deviation.toFixed(3))}. The gun is taken to be set to ${draft.setting || words.setting}.` : "Nothing to correct.");
    fields.emissivity.input.placeholder = known?.emissivity ? known.emissivity.toFixed(2) : "";
    fields.setting.input.placeholder = words.setting.toFixed(2);
    for (const key of ["shown", "surroundings", "deviation"]) setText(fields[key].sign, typedIn);
    setText(go, at === null ? "Add the reading" : "Change the reading");
    stop.hidden = at === null;
  }
  fill();

  return {
    element: node,
    reading,
    /** Fills a row in, to be changed; `degrees(text)` gives its temperatures in the unit shown. */
    edit(row, place, degrees) {
      [at, typedIn] = [place, unit()];
      const difference = row.deviation === undefined ? "" : String(row.deviation);
      draft = {
        ...EMPTY, ...Object.fromEntries(Object.entries(row).filter(([key]) => key in EMPTY).map(([key, value]) => [key, String(value)])),
        shown: degrees(row.shown), surroundings: row.surroundings === undefined ? "" : degrees(row.surroundings), deviation: difference,
        surface: row.surface ?? "contact",
      };
      fill();
      mark(null);
      fields.shown.input.focus();
      look();
    },
    /** What the core says of the reading being typed, or null. */
    say(checked) {
      const error = checked?.error;
      // What is not typed yet is no mistake.
      mark(error && !(error.key === "time" && draft.time.trim() === "") ? error : null);
      if (!checked || error) setText(says, "");
      else if (!checked.infrared) setText(says, `Taken as shown: ${whole(checked.corrected)} ± ${near(checked.deviation)} ${checked.unit}.`);
      else setText(says, `The spot had ${whole(checked.corrected)} ± ${near(checked.deviation)} ${checked.unit}.${checked.poor ? " Bare metal mirrors the shop: put a piece of tape on it and read that." : ""}`);
    },
    /** The row that is being changed was taken away or is another now. */
    forget: () => at !== null && clear(),
    units() {
      if (draft.shown.trim() === "" && at === null) typedIn = unit();
      show();
    },
  };
}

const whole = (value) => String(Math.round(value)).replace("-", "−");
const near = (value) => (value < 10 ? value.toFixed(1) : String(Math.round(value)));
