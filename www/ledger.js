// The ledger of heat: two bars of the same length, where it came from and where it went, line by line; then
// the heat of each kind of event.
//
// Heat that a part gives up (a day that starts hot) stands with the sources, so that both bars are sums of
// positive lines and equally long.
import { element, setText, settle } from "./element.js";
import { swatch } from "./swatch.js";

const LEAST = 0.0005;

export function createLedger({ core, seen }, root) {
  const looks = new Map(core.tables("us").paths.map((path) => [path.key, path]));
  const lookOf = (line) => (line.inside ? null : looks.get(line.key));
  const closes = element("p", { class: "closes", id: "ledger-closes" });
  const came = side("Came from");
  const went = side("Went to");
  const kinds = byKind();
  root.append(closes, came.element, went.element, kinds.element);

  function side(title) {
    const bar = element("div", { class: "bar", "aria-hidden": "true" });
    const total = element("span", { class: "total" });
    const list = element("ol", { class: "lines" });
    return {
      element: element("section", { class: "side" }, element("h3", {}, `${title} `, total), bar, list),
      show(lines, sum, unit) {
        const kept = lines
          .filter((line) => line.energy > sum * LEAST)
          .sort((a, b) => b.energy - a.energy);
        setText(total, `${amount(sum)} ${unit}`);
        settle(
          bar,
          ...kept.map((line) => {
            const [share, look] = [line.energy / sum, lookOf(line)];
            const text = look && share > 0.055 ? String(look.number) : "";
            return swatch(look, { class: "shade", text, style: { "flex-grow": share.toFixed(5) } });
          }),
        );
        settle(
          list,
          ...kept.map((line) =>
            element(
              "li",
              { data: { line: line.key } },
              swatch(lookOf(line)),
              element("span", { class: "name", text: line.label }),
              element("span", { class: "value", text: `${amount(line.energy)} ${unit}` }),
              element("span", { class: "share", text: `${(100 * line.energy / sum).toFixed(1)} %` }),
            ),
          ),
        );
      },
    };
  }

  // Shares refer to all heat made, so the list needs no bar of its own.
  function byKind() {
    const list = element("ol", { class: "lines kinds" });
    return {
      element: element(
        "section",
        { class: "by-kind" },
        element("h3", { text: "Made or soaked in, by kind of event" }),
        list,
        element("p", { class: "help", text: "Heat soaked in from the engine counts as brought in." }),
      ),
      show(lines, unit) {
        settle(
          list,
          ...lines.map((line) =>
            element(
              "li",
              { data: { kind: line.key } },
              element("span", { class: "name" }, line.label, element("span", { class: "times", text: ` ${line.count} ×` })),
              element("span", { class: "value", text: `${amount(line.energy)} ${unit}` }),
              element("span", { class: "share", text: `${(100 * line.share).toFixed(1)} %` }),
            ),
          ),
        );
      },
    };
  }

  seen(root, (state, changed) => {
    if (!("result" in changed) || !state.result) return;
    const { ledger, kinds: heats, energy_unit: unit } = state.result.summary;
    kinds.show(heats, unit);
    const gained = ledger.stored.filter((line) => line.energy >= 0);
    const given = ledger.stored.filter((line) => line.energy < 0);
    const stored = (line, word) => ({ ...line, inside: true, label: `${line.label}, ${word}`, energy: Math.abs(line.energy) });
    const sources = [...ledger.made, ...given.map((line) => stored(line, "cooled"))];
    const sinks = [...ledger.away, ...gained.map((line) => stored(line, "still warm"))];
    const sum = (lines) => lines.reduce((total, line) => total + line.energy, 0);
    came.show(sources, sum(sources), unit);
    went.show(sinks, sum(sinks), unit);
    const [from, to] = [sum(sources), sum(sinks)];
    const closure = from > 0 ? (100 * to) / from : 100;
    setText(
      closes,
      `${amount(from)} ${unit} in, ${amount(to)} ${unit} out or stored: the books close to ` +
        `${ledger.closure < 5e-6 ? "100" : closure.toFixed(3)} %.`,
    );
  });
}

const whole = new Intl.NumberFormat("en-US", { maximumFractionDigits: 0 });
const tenth = new Intl.NumberFormat("en-US", { maximumFractionDigits: 1 });

/** An amount of heat: whole, below 100 with a tenth. */
export function amount(value) {
  return (value < 100 ? tenth : whole).format(value);
}
