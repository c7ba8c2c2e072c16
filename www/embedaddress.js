// What an address asks of the view: `?units=si&theme=dark&controls=cooler.ua,air.temperature#s=…`.
//
// A value that cannot be used becomes a problem { field, value, limit, remedy } to be shown, and the rest holds. What
// needs the core's tables, names of parameters and examples, is checked once these are there.
import { rgbOf } from "./embedcolour.js";

export const PARTS = ["finding", "keys", "chart", "controls", "launches"];
const SHOWN = ["finding", "keys", "chart", "controls"];
/** What stands open where the address names no controls, as on the page itself. */
const CONTROLS = ["air.temperature", "cooler.ua", "circulation.flow", "converter.k_factor"];
const MOST_CONTROLS = 12;
const FIELDS = ["units", "theme", "accent", "background", "controls", "locked", "show", "example", "origin"];

const list = (text) => text.split(",").map((one) => one.trim()).filter(Boolean);
const shortened = (text) => (text.length > 60 ? `${text.slice(0, 59)}…` : text);

/** Collects problems; `add` shortens what was written. */
function collector() {
  const problems = [];
  return { problems, add: (field, value, limit, remedy) => problems.push({ field, value: shortened(value), limit, remedy }) };
}

/**
 * What can be told without the core: { units (null where it names none), theme, accent, background (colours as [r, g, b] or null), locked, show,
 * controls (names or null), example (key or null), origin (or null), problems }.
 */
export function readAddress(search) {
  const { problems, add } = collector();
  const query = new URLSearchParams(search);
  for (const key of new Set(query.keys())) {
    if (!FIELDS.includes(key)) add(key, query.get(key), `not one of ${FIELDS.join(", ")}`, "Take it out of the address, or correct its name.");
    else if (query.getAll(key).length > 1) add(key, query.getAll(key).join(" and "), "more than one", "State it once. The first is used.");
  }
  const one = (field, known, otherwise) => {
    const value = query.get(field);
    if (value === null || known.includes(value)) return value ?? otherwise;
    add(field, value, `must be one of ${known.filter(Boolean).join(", ")}`, `Write ${field}=${known[0]}.`);
    return otherwise;
  };
  const colour = (field) => {
    const value = query.get(field);
    if (value === null) return null;
    const rgb = rgbOf(value);
    if (!rgb) add(field, value, "must be a colour of three or six hexadecimal digits", `Write ${field}=%230b5966, where %23 stands for #.`);
    return rgb;
  };
  const shown = () => {
    const value = query.get("show");
    if (value === null) return SHOWN;
    const names = list(value);
    for (const name of names) if (!PARTS.includes(name)) add("show", name, `must be among ${PARTS.join(", ")}`, "Correct its name, or take it out.");
    const known = PARTS.filter((part) => names.includes(part));
    if (known.length === 0 && names.length === 0) add("show", value, "shows nothing", `Name at least one of ${PARTS.join(", ")}.`);
    return known.length > 0 ? known : SHOWN;
  };
  return {
    units: one("units", ["us", "si"], null),
    theme: one("theme", ["auto", "light", "dark"], "auto"),
    accent: colour("accent"),
    background: colour("background"),
    locked: one("locked", ["1", "0", ""], "0") !== "0",
    show: shown(),
    controls: query.get("controls") === null ? null : list(query.get("controls")),
    example: query.get("example"),
    origin: originOf(query.get("origin"), add),
    problems,
  };
}

/** An origin as browsers write it, or null. */
function originOf(value, add) {
  if (value === null) return null;
  try {
    const { origin, protocol } = new URL(value);
    if (origin === value && /^https?:$/.test(protocol)) return value;
  } catch {
    // Said below.
  }
  add("origin", value, "must be scheme, host and port only", "Write origin=https://shop.example, without a slash at its end. Until then no message is obeyed.");
  return null;
}

/** The parameters to be controlled as places in the core's table; what is wrong is added to `problems`. */
export function controlsOf({ controls, locked, show }, { parameters }, problems) {
  if (locked || !show.includes("controls")) return [];
  const { problems: found, add } = collector();
  const places = [];
  for (const path of controls ?? CONTROLS) {
    const at = parameters.findIndex(({ part, key }) => `${part}.${key}` === path);
    if (at < 0) add("controls", path, "no parameter has this name", nearest(path, parameters));
    else if (places.includes(at)) add("controls", path, "named twice", "Name it once.");
    else if (places.length === MOST_CONTROLS) add("controls", path, `more than ${MOST_CONTROLS} controls`, "Leave some to the full page.");
    else places.push(at);
  }
  problems.push(...found);
  return places;
}

/** A remedy that names the parameters which the path may mean. */
function nearest(path, parameters) {
  const [part, key = part] = path.toLowerCase().split(".");
  const paths = parameters.map((row) => `${row.part}.${row.key}`);
  const near = [
    ...paths.filter((one) => one.split(".")[1] === key),
    ...paths.filter((one) => one.startsWith(`${part}.`)),
  ].slice(0, 4);
  return near.length > 0 ? `Did you mean ${near.join(", ")}?` : `Names are like ${CONTROLS.join(", ")}; docs/parameters.md has all.`;
}

/** The example that the address names; the first where it names none, or none that is known. */
export function exampleOf(key, examples, problems) {
  const known = examples.find((one) => one.key === key);
  if (key !== null && !known) {
    problems.push({ field: "example", value: shortened(key), limit: `must be one of ${examples.map((one) => one.key).join(", ")}`, remedy: `Write example=${examples[0].key}, which is shown.` });
  }
  return known ?? examples[0];
}
