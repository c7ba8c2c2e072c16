// The days that are compared in numbers, one column a day: what they come to, at the cursor, at each launch. Below every
// number stands its difference to the day of reference, that of the numbers shown.
import { element, freshId, setText, settle } from "./element.js";
import { keyNumbers } from "./keynumbers.js";

/** What the table of launches can show: of a launch of a summary, with so many digits. */
const QUANTITIES = [
  { key: "pan", label: "Pan", of: ({ pan }) => pan, digits: 0, degrees: true },
  { key: "converter", label: "Converter", of: ({ converter }) => converter, digits: 0, degrees: true },
  { key: "flash", label: "Flash rpm", of: ({ flash_rpm: rpm }) => rpm, digits: 0 },
  { key: "et", label: "ET", of: ({ pass }) => pass?.elapsed_s, digits: 3 },
];

const isNumber = (value) => typeof value === "number" && Number.isFinite(value);

/** A number as it is shown. */
export const shownNumber = (value, digits = 0) => value.toFixed(digits).replace(/^-(?=0(\.0*)?$)/, "").replace("-", "−");

/** The difference of two numbers as they are shown, rounded. */
export function difference(b, a, digits = 0) {
  const change = Number((Number(b.toFixed(digits)) - Number(a.toFixed(digits))).toFixed(digits));
  return change === 0 ? "±0" : `${change > 0 ? "+" : "−"}${Math.abs(change).toFixed(digits)}`;
}

/** What pump and fan took out of the battery in the turnarounds of a summary, Ah; null where there are none. */
export function batteryUsed({ turnarounds }) {
  return turnarounds.length > 0 ? turnarounds.reduce((sum, { used_ah: used }) => sum + used, 0) : null;
}

/** A launch is known by its round, others by their order. */
function launchKeys({ launches }) {
  let others = 0;
  return launches.map(({ round }) => (round ? `round ${round}` : `other ${(others += 1)}`));
}

export function createVariantTables({ quantity, chosen }) {
  const heads = element("tr");
  const body = element("tbody");
  const cursorBody = element("tbody", { id: "compare-cursor" });
  const caption = element("caption");
  const numbers = element("table", { class: "by-variant", id: "compare-numbers" }, caption, element("thead", {}, heads), body, cursorBody);

  const what = element(
    "select",
    { id: freshId("quantity"), on: { change: () => chosen(what.value) } },
    ...QUANTITIES.map(({ key, label }) => element("option", { value: key, text: label })),
  );
  if (QUANTITIES.some(({ key }) => key === quantity)) what.value = quantity;
  const pick = element("p", { class: "choice" }, element("label", { for: what.id, text: "At each launch" }), " ", what);
  const launchCaption = element("caption");
  const launchHeads = element("tr");
  const rows = element("tbody", { id: "compare-rows" });
  const launches = element("table", { class: "by-variant", id: "compare-launches" }, launchCaption, element("thead", {}, launchHeads), rows);

  /** Cells of one number a day; `outside` marks what lies outside the window. */
  function cells(values, at, digits, outside = []) {
    return values.map((value, column) => {
      if (!isNumber(value)) return element("td", { text: "–" });
      const compared = column !== at && isNumber(values[at]);
      return element("td", { class: outside[column] ? "outside" : null }, shownNumber(value, digits),
        compared ? element("span", { class: "drift", text: difference(value, values[at], digits) }) : null);
    });
  }
  const row = (label, ...rest) => element("tr", {}, element("th", { scope: "row", text: label }), ...rest);
  const letters = (variants, corner) => [
    corner ? element("th", { scope: "col", text: corner }) : element("td"),
    ...variants.map(({ letter, edited }) => element("th", { scope: "col" }, element("span", { class: "letter", text: letter }), edited ? element("span", { class: "drift", text: "edited" }) : null)),
  ];

  function showNumbers(variants, at, unit) {
    const all = variants.map(({ summary }) => summary && keyNumbers(summary));
    const used = variants.map(({ summary }) => summary && batteryUsed(summary));
    setText(caption, `Temperatures in ${unit}, below each what it is against ${variants[at].letter}.`);
    settle(heads, ...letters(variants, ""));
    settle(
      body,
      row("Converter, peak", ...cells(all.map((one) => one?.peak), at)),
      row("Pan, last launch", ...cells(all.map((one) => one?.launch), at)),
      row("Spread of launches", ...cells(all.map((one) => one?.spread), at)),
      ...(used.some(isNumber) ? [row("Pump and fan, Ah", ...cells(used, at, 1))] : []),
    );
  }

  function showLaunches(variants, at, unit) {
    const known = variants.filter(({ summary }) => summary);
    const isTold = ({ of }) => known.some(({ summary }) => summary.launches.some((launch) => isNumber(of(launch))));
    for (const [place, one] of QUANTITIES.entries()) what.options[place].disabled = !isTold(one);
    const keys = [...new Set(known.flatMap(({ summary }) => launchKeys(summary)))];
    launches.hidden = pick.hidden = keys.length === 0;
    if (launches.hidden) return;
    const { of, digits, degrees, label, key: shown } = QUANTITIES.find(({ key }) => key === what.value);
    const launchOf = ({ summary }, key) => summary?.launches[launchKeys(summary).indexOf(key)];
    setText(launchCaption, degrees ? `${label} at each launch in ${unit}.${shown === "pan" ? " Bold: outside the launch window." : ""}`
      : shown === "et" ? "Elapsed time of each computed pass, s." : "Speed at which engine and stalled converter balance.");
    settle(launchHeads, ...letters(variants, "Round"));
    settle(rows, ...keys.map((key) => {
      const those = variants.map((one) => launchOf(one, key));
      const outside = shown === "pan" ? those.map((launch) => launch && launch.from_window !== 0) : [];
      return row(key.startsWith("round") ? key.slice(6) : "–", ...cells(those.map((launch) => launch && of(launch)), at, digits, outside));
    }));
  }

  return {
    elements: [numbers, pick, launches],
    /** `variants`: [{ letter, edited, summary or null }], `at` the place of the one of reference. */
    show(variants, at, unit) {
      showNumbers(variants, at, unit);
      showLaunches(variants, at, unit);
    },
    /** `temperatures`: of each day [converter, pan] or null. */
    showCursor(where, temperatures, at) {
      const head = element("th", { colspan: temperatures.length + 1, scope: "rowgroup", text: where });
      settle(
        cursorBody,
        element("tr", { class: "where" }, head),
        ...["Converter", "Pan"].map((label, node) => row(label, ...cells(temperatures.map((one) => one?.[node]), at))),
      );
    },
    hide(hidden) {
      for (const node of [numbers, pick, launches]) node.hidden = hidden;
    },
  };
}
