// The cut-away: a drawing of engine, converter, front pump, clutches, planetary, case, pan, cooler, fan and circulation
// pump with their lines, as they are at the cursor.
//
// Parts take the colour of their temperature, and say it as a number; lines in which fluid flows are wide, dashed
// and carry arrow heads; arrows of heat are as wide as the root of their rate. All of it is built once; a move of the
// cursor only sets the attributes and texts that differ. The same numbers stand in a table below.
//
// It shows a moment that the core made. It knows no physics and converts no unit; not to scale.
import { element, setAttribute, setText } from "./element.js";

const STOPS = 5;
const WIDEST = 17;
// Arrows below this share of a full one are not drawn, numbers below this share of the largest are not written.
const LEAST_SHARE = 2e-5;
const LEAST_SPOKEN = 0.03;

// In the order of the core's nodes: where the number stands, its name there, and the end of a leader.
const PLACES = [
  { name: "Converter", x: 106, y: 128, anchor: "middle" },
  { name: "Shell", x: 134, y: -8, anchor: "middle", leader: "M134 8 L125 78" },
  { name: "Pan", x: 252, y: 202, anchor: "middle" },
  { name: "Gears", x: 236, y: -8, anchor: "middle", leader: "M236 8 V92" },
  { name: "Case", x: 332, y: -8, anchor: "middle", leader: "M332 8 L318 80" },
  { name: "Cooler", x: 80, y: 324, anchor: "start" },
  { name: "Engine", x: 32, y: 128, anchor: "middle" },
];

// Heat: from where to where the arrow points, which rates it adds up, where its number stands.
const ARROWS = [
  { key: "converter_shear", rates: ["converter_shear"], from: [92, 10], to: [92, 68], text: [84, 6, "end"] },
  { key: "front_pump", rates: ["front_pump"], from: [163, 40], to: [163, 86], text: [163, 34, "middle"] },
  { key: "gear_train", rates: ["gear_train"], from: [276, 40], to: [276, 92], text: [276, 34, "middle"] },
  { key: "circulation_pump", rates: ["circulation_pump"], from: [346, 262], to: [312, 262], text: [350, 266, "start"] },
  { key: "from_engine", rates: ["from_engine"], from: [48, 172], to: [82, 172], text: [8, 214, "start"] },
  { key: "into_engine", away: true, rates: ["into_engine"], from: [80, 88], to: [46, 88], text: [8, 52, "start"] },
  { key: "case_air", away: true, rates: ["case_convection", "case_radiation"], from: [346, 112], to: [378, 78], text: [398, 68, "end"] },
  { key: "bellhousing_air", away: true, rates: ["bellhousing_air"], from: [96, 192], to: [84, 226], text: [76, 234, "end"] },
  { key: "cooler_air", away: true, rates: ["cooler_air"], from: [64, 314], to: [64, 344], text: [54, 338, "end"] },
];

// Lines, each with the circuits that run through it: `front` is the engine's, the others the routes of the pump.
const LINES = [
  { d: "M196 206 V188 H165 V170", of: ["front"] },
  { d: "M156 130 H139", of: ["front"] },
  { d: "M148 146 V240 H92 V256", of: ["front", "through_converter"] },
  { d: "M124 306 H360 V132 H300", of: ["front", "pan_loop"] },
  { d: "M290 216 V245", of: ["pan_loop", "through_converter", "cooler_first"] },
  { d: "M275 266 H126", of: ["pan_loop", "cooler_first"] },
  { d: "M275 256 H172 V150 H141", of: ["through_converter"] },
  { d: "M124 292 H224 V218", of: ["through_converter"] },
  { d: "M124 280 H136 V168", of: ["cooler_first"] },
  { d: "M158 152 V212 H180", of: ["cooler_first"] },
];

const SAID = {
  converter_shear: "of shear in the converter",
  gear_train: "of drag and shifts in the gears",
  front_pump: "in the front pump",
  circulation_pump: "in the circulation pump",
  from_engine: "soaking in from the engine",
};
const LEAVES = {
  cooler_air: "the cooler", case_convection: "the case", case_radiation: "the case", bellhousing_air: "the bellhousing",
  into_engine: "the engine",
};
const GROUPS = { made: "Made or brought in", away: "Carried away", inside: "Moved inside" };

export function createCutaway({ store, seen, core, moment }, root) {
  const dark = matchMedia("(prefers-color-scheme: dark)");
  const paper = matchMedia("print");
  const { nodes, routes } = core.tables("us");
  const path = (d, attributes = {}) => element("path", { d, ...attributes });

  // What takes the colour of a node.
  const filled = nodes.map(() => []);
  const part = (node, shape) => {
    shape.classList.add("piece");
    shape.dataset.part = nodes[node].key;
    filled[node].push(shape);
    return shape;
  };
  const fan = element("g", { class: "blower" }, element("circle", { cx: 66, cy: 285, r: 22 }), path(blades(66, 285, 20)));
  const pump = element(
    "g",
    { class: "circulator" },
    element("circle", { cx: 290, cy: 260, r: 15 }),
    path("M303 267 L303 253 L277 260 Z", { class: "vane" }),
  );
  const lines = LINES.map((line) => ({
    ...line,
    node: path(line.d, { class: "stream", data: { of: line.of.join(" ") } }),
    on: null,
  }));
  const arrows = ARROWS.map((arrow) => {
    const [x, y, anchor] = arrow.text;
    return {
      ...arrow,
      node: path("", { class: arrow.away ? "heat away" : "heat", data: { heat: arrow.key } }),
      number: element("text", { x, y, "text-anchor": anchor, class: "rate", data: { rate: arrow.key } }),
      width: -1,
    };
  });
  const numbers = PLACES.map(({ name, x, y, anchor }, index) => {
    const value = element("text", { x, y: y + 14, "text-anchor": anchor, class: "degrees", data: { degrees: nodes[index].key } });
    return { value, title: element("text", { x, y, "text-anchor": anchor, class: "part-name", text: name }) };
  });
  const leaders = PLACES.filter(({ leader }) => leader).map(({ leader }) => path(leader, { class: "leader" }));

  const svg = element(
    "svg",
    { viewBox: "0 -26 400 382", role: "img", class: "drawing" },
    element(
      "defs",
      {},
      element(
        "marker",
        { id: "stream-head", viewBox: "0 0 10 10", refX: 8, refY: 5, markerWidth: 9, markerHeight: 9, markerUnits: "userSpaceOnUse", orient: "auto" },
        path("M0 0 L10 5 L0 10 Z", { class: "head" }),
      ),
    ),
    // Engine block: deck, three bores with pistons, crankshaft.
    part(6, path("M4 66 H62 V196 H4 Z")),
    path("M12 66 V84 H30 V66 M36 66 V84 H54 V66 M4 152 H62 M12 78 H30 M36 78 H54", { class: "detail" }),
    // Bellhousing and case in one outline, tail housing and output shaft.
    part(4, path("M64 58 H76 L146 74 H326 L352 104 H380 V156 H352 L334 186 H178 L146 188 L76 202 H64 Z")),
    path("M72 66 L148 83 H322 L346 110 H374 V150 H346 L328 178 H178 L148 179 L72 194 Z", { class: "room" }),
    // Pan under the case, with its fluid.
    path("M176 186 V210 Q176 220 188 220 H318 Q330 220 330 210 V186 Z", { class: "room" }),
    part(2, path("M178 192 H328 V209 Q328 218 318 218 H188 Q178 218 178 209 Z")),
    path("M184 203 H208 V209 H184 Z", { class: "solid" }), // the filter
    path("M172 186 H334", { class: "flange" }),
    // Crankshaft and input shaft, output shaft.
    part(3, path("M146 124 H300 V136 H146 Z")),
    part(3, path("M300 120 H396 V140 H300 Z")),
    path("M46 124 H72 V136 H46 Z", { class: "solid" }),
    // Flexplate.
    path("M72 82 V178", { class: "flange" }),
    // Converter shell: two halves of a torus in section with the hub behind.
    part(1, path("M78 130 V92 Q80 72 108 70 Q138 70 140 98 V118 H150 V142 H140 V162 Q138 190 108 190 Q80 188 78 168 Z")),
    part(0, path("M83 126 V96 Q84 76 108 75 Q134 76 135 98 V126 Z")),
    part(0, path("M83 134 V164 Q84 184 108 185 Q134 184 135 162 V134 Z")),
    path(
      // Turbine (engine's side) and pump (hub's side), each with its blades, and the stator between, above and below the axis.
      "M106 80 Q87 82 87 100 Q88 116 104 119 M112 80 Q131 82 131 100 Q130 116 114 119 M106 180 Q87 178 87 160 Q88 144 104 141 M112 180 Q131 178 131 160 Q130 144 114 141 " +
        "M106 80 V90 M98 82 L101 92 M91 88 L97 95 M88 97 L96 99 M90 108 L97 104 M112 80 V90 M120 82 L117 92 M127 88 L121 95 M130 97 L122 99 M128 108 L121 104 " +
        "M106 180 V170 M98 178 L101 168 M91 172 L97 165 M88 163 L96 161 M90 152 L97 156 M112 180 V170 M120 178 L117 168 M127 172 L121 165 M130 163 L122 161 M128 152 L121 156 ",
      { class: "detail" },
    ),
    element("ellipse", { cx: 109, cy: 100, rx: 10, ry: 9, class: "detail" }),
    element("ellipse", { cx: 109, cy: 160, rx: 10, ry: 9, class: "detail" }),
    path("M105 112 H113 L112 121 H106 Z M105 148 H113 L112 139 H106 Z", { class: "solid" }),
    // Front pump: body with two gears.
    path("M154 88 H172 V172 H154 Z", { class: "solid" }),
    path("M154 96 l5 4 l-5 4 l5 4 l-5 4 M172 96 l-5 4 l5 4 l-5 4 l5 4 M154 148 l5 4 l-5 4 l5 4 l-5 4 M172 148 l-5 4 l5 4 l-5 4 l5 4", { class: "detail" }),
    // Clutch drum with its plates, above and below the shaft.
    part(3, path("M182 90 H230 V97 H188 V124 H182 Z M182 170 H230 V163 H188 V136 H182 Z")),
    path("M194 99 V118 M200 99 V118 M206 99 V118 M212 99 V118 M218 99 V118 M224 99 V118 M194 142 V161 M200 142 V161 M206 142 V161 M212 142 V161 M218 142 V161 M224 142 V161", { class: "plates" }),
    // Planetary: ring, planets on their carrier, sun on the shaft; a band around it.
    part(3, path("M244 88 H304 V96 H244 Z M244 164 H304 V172 H244 Z")),
    part(3, path("M252 98 H274 V120 H252 Z M252 140 H274 V162 H252 Z")),
    part(3, path("M280 98 H300 V120 H280 Z M280 140 H300 V162 H280 Z")),
    path("M252 102 H274 M252 107 H274 M252 112 H274 M252 116 H274 M252 144 H274 M252 149 H274 M252 154 H274 M252 158 H274 M280 102 H300 M280 107 H300 M280 112 H300 M280 116 H300 M280 144 H300 M280 149 H300 M280 154 H300 M280 158 H300 M263 92 V168 M290 92 V168", { class: "detail" }),
    path("M396 118 V142", { class: "flange" }),
    // Cooler with its fins, fan before it.
    part(5, path("M8 258 H124 V312 H8 Z")),
    path(fins(), { class: "detail" }),
    fan,
    ...lines.map(({ node }) => node),
    pump,
    ...leaders,
    ...arrows.map(({ node }) => node),
    ...arrows.map(({ number }) => number),
    ...numbers.flatMap(({ title, value }) => [title, value]),
  );

  const caption = element("p", { class: "cutaway-says" });
  const [low, high] = [element("span"), element("span")];
  const scale = element("div", { class: "ramp" }, low, element("div", { class: "ramp-bar", "aria-hidden": "true" }), high);
  const help = element("p", {
    class: "help",
    text: "A sketch, not to scale. Wide dashed lines carry fluid, with arrow heads where it goes; arrows show heat that is made or leaves, wider for more.",
  });
  const bodies = [element("tbody"), element("tbody"), element("tbody")];
  const table = (title, body, heads) =>
    element(
      "table",
      {},
      element("caption", { text: title }),
      element("thead", {}, element("tr", {}, ...heads.map((text) => element("th", { scope: "col", text })))),
      body,
    );
  const details = element(
    "details",
    { id: "cutaway-table" },
    element("summary", { text: "As a table" }),
    table("Temperatures at the cursor", bodies[0], ["Part", "Temperature"]),
    table("Heat at the cursor", bodies[1], ["Path", "Kind", "Rate"]),
    table("Flows and speeds at the cursor", bodies[2], ["What", "Value"]),
  );
  root.append(caption, element("figure", {}, svg, scale), help, details);

  let stops = [];
  function readStops() {
    const style = getComputedStyle(root);
    stops = Array.from({ length: STOPS }, (_, index) => channels(style.getPropertyValue(`--ramp-${index}`).trim()));
  }
  function colour(share) {
    const at = Math.min(1, Math.max(0, Number.isFinite(share) ? share : 0)) * (STOPS - 1);
    const index = Math.min(STOPS - 2, Math.floor(at));
    const mixed = stops[index].map((from, channel) => Math.round(from + (at - index) * (stops[index + 1][channel] - from)));
    return `rgb(${mixed.join(", ")})`;
  }

  const rows = bodies.map(() => []);
  /** Fills a table, making rows only where their number changes. */
  function fill(which, lines) {
    while (rows[which].length < lines.length) {
      const cells = lines[0].map((_, index) => element(index === 0 ? "th" : "td", index === 0 ? { scope: "row" } : {}));
      rows[which].push(cells);
      bodies[which].append(element("tr", {}, ...cells));
    }
    while (rows[which].length > lines.length) rows[which].pop()[0].parentElement.remove();
    lines.forEach((line, index) => line.forEach((text, cell) => setText(rows[which][index][cell], text)));
  }

  function showTable(now) {
    const { temperature_unit: degrees, rate_unit: power, streams } = now;
    fill(0, nodes.map((node, index) => [node.label, `${now.temperatures[index].toFixed(0)} ${degrees}`])
      .concat([["Air", `${now.air_temperature.toFixed(0)} ${degrees}`]]));
    fill(1, now.rates.map(({ label, group, rate }) => [label, GROUPS[group], `${short(rate)} ${power}`]).concat([
      ["All that is made", "", `${short(now.made_rate)} ${power}`],
      ["All that is carried away", "", `${short(now.away_rate)} ${power}`],
      ["What parts take up", "", `${short(now.stored_rate)} ${power}`],
    ]));
    const { pass } = now;
    fill(2, [
      ["Front pump, through the cooler", `${streams.front_pump.toFixed(2)} ${streams.flow_unit}`],
      ["Circulation pump", `${streams.circulation.toFixed(2)} ${streams.flow_unit}`],
      ["Its route", streams.route_label ?? "off"],
      ["Fan", streams.fan ? "on" : "off"],
      ["Engine", `${now.engine_rpm.toFixed(0)} rpm`],
      ...(pass
        ? [
            ["Turbine", `${pass.turbine_rpm.toFixed(0)} rpm`],
            ["Converter slip", `${(100 * pass.slip).toFixed(0)} %`],
            ["Gear", String(pass.gear)],
            ["Car", `${pass.speed.toFixed(0)} ${pass.speed_unit}`],
            ["From the start", `${pass.distance.toFixed(0)} ${pass.distance_unit}`],
          ]
        : []),
    ]);
  }

  function sentence(now) {
    const { streams, rate_unit: power, pass } = now;
    const made = largest(now.rates, "made");
    const away = largest(now.rates, "away");
    const said = [];
    if (made.rate >= 0.05 && made.rate > 0.1 * now.away_rate) said.push(`${short(made.rate)} ${power} ${SAID[made.key]}`);
    if (away.rate >= 0.05 && away.rate > 0.02 * made.rate) said.push(`${short(now.away_rate)} ${power} leaves, most by ${LEAVES[away.key]}`);
    if (said.length === 0) said.push("hardly any heat moves");
    if (pass) said.push(`${pass.engine_rpm.toFixed(0)} rpm, ${(100 * pass.slip).toFixed(0)} % slip, ${pass.speed.toFixed(0)} ${pass.speed_unit}`);
    const running = streams.route
      ? `pump on: ${streams.circulation.toFixed(1)} ${streams.flow_unit}, ${streams.route_label.toLowerCase()}; fan ${streams.fan ? "on" : "off"}`
      : streams.fan ? "pump off, fan on" : "pump and fan off";
    const where = [now.label, now.round ? `round ${now.round}` : ""].filter(Boolean).join(", ");
    return `${where ? `${where}: ` : ""}${said.join(", ")}; ${running}.`;
  }

  function show(state) {
    const now = moment();
    const { summary } = state.result;
    const unit = now.temperature_unit;
    const peak = Math.max(...summary.peaks.map((one) => one.temperature));
    const span = Math.max(1e-9, peak - now.air_temperature);
    now.temperatures.forEach((temperature, index) => {
      const fill = colour((temperature - now.air_temperature) / span);
      for (const shape of filled[index]) setAttribute(shape, "fill", fill);
      setText(numbers[index].value, `${temperature.toFixed(0)}\u202f${unit}`);
    });
    setText(low, `${now.air_temperature.toFixed(0)} ${unit}, the air`);
    setText(high, `${peak.toFixed(0)} ${unit}, the day’s peak`);

    const { streams } = now;
    const running = { front: streams.front_pump, [streams.route]: streams.circulation };
    const used = new Set(["front", ...summary.switches.map(({ key }) => key)]);
    // A day without a route shows where the pump would run.
    if (!routes.some(({ key }) => used.has(key))) used.add("pan_loop");
    for (const line of lines) {
      const flow = line.of.reduce((sum, circuit) => sum + (running[circuit] ?? 0), 0);
      const on = flow > 0;
      if (line.on !== on) {
        line.on = on;
        line.node.classList.toggle("flowing", on);
      }
      line.node.classList.toggle("absent", !on && !line.of.some((circuit) => used.has(circuit)));
      if (on) line.node.style.setProperty("--pace", `${(0.6 / Math.min(1.5, Math.max(0.08, flow / streams.full_flow))).toFixed(1)}s`);
    }
    fan.classList.toggle("runs", streams.fan);
    pump.classList.toggle("runs", streams.route !== null && streams.route !== undefined);

    const rateOf = new Map(now.rates.map(({ key, rate }) => [key, rate]));
    const sums = arrows.map(({ rates }) => rates.reduce((sum, key) => sum + rateOf.get(key), 0));
    const most = Math.max(...sums.map(Math.abs));
    arrows.forEach((arrow, index) => {
      const share = Math.abs(sums[index]) / now.full_rate;
      const width = share < LEAST_SHARE ? 0 : Math.round(10 * Math.min(WIDEST, Math.max(1.6, WIDEST * Math.sqrt(share)))) / 10;
      const backwards = sums[index] < 0;
      if (arrow.width !== width || arrow.backwards !== backwards) {
        [arrow.width, arrow.backwards] = [width, backwards];
        const ends = backwards ? [arrow.to, arrow.from] : [arrow.from, arrow.to];
        arrow.node.setAttribute("d", width > 0 ? arrowPath(...ends, width) : "");
      }
      const spoken = width > 0 && Math.abs(sums[index]) >= LEAST_SPOKEN * most;
      setText(arrow.number, spoken ? `${short(Math.abs(sums[index]))} ${now.rate_unit}` : "");
    });

    const says = sentence(now);
    setText(caption, says);
    setAttribute(svg, "aria-label", `Cut-away of the transmission. ${says} ${nodes.map((node, index) => `${node.label} ${now.temperatures[index].toFixed(0)}`).join(", ")} ${unit}.`);
    if (details.open) showTable(now);
  }

  const anew = () => {
    readStops();
    if (store.state.result) show(store.state);
  };
  readStops();
  dark.addEventListener("change", anew);
  paper.addEventListener("change", anew);
  details.addEventListener("toggle", () => details.open && store.state.result && showTable(moment()));
  // Dashes move only where they are seen.
  new IntersectionObserver(([entry]) => svg.classList.toggle("seen", entry.isIntersecting)).observe(svg);

  let shown = { cursor_s: null, units: null };
  seen(root, (state, changed) => {
    if (!state.result) return;
    const { units, view: { cursor_s } } = state;
    if (!("result" in changed) && shown.cursor_s === cursor_s && shown.units === units) return;
    shown = { cursor_s, units };
    show(state);
  });
}

/** The largest rate of a group. */
function largest(rates, group) {
  return rates.filter((one) => one.group === group).reduce((most, one) => (one.rate > most.rate ? one : most));
}

/** A rate with about three digits. */
function short(value) {
  const size = Math.abs(value);
  const text = value.toFixed(size >= 99.95 ? 0 : size >= 9.995 ? 1 : 2);
  return Number(text) === 0 ? "0" : text;
}

/** `#rrggbb` as three numbers. */
function channels(hex) {
  return [1, 3, 5].map((start) => Number.parseInt(hex.slice(start, start + 2), 16));
}

/** A block arrow from one point to another, its shaft this wide. */
function arrowPath([x1, y1], [x2, y2], width) {
  const length = Math.hypot(x2 - x1, y2 - y1);
  const [ux, uy] = [(x2 - x1) / length, (y2 - y1) / length];
  const half = width / 2;
  const wing = half + 4;
  const head = Math.min(length * 0.6, wing * 1.3);
  const at = (along, across) => `${(x1 + along * ux - across * uy).toFixed(1)} ${(y1 + along * uy + across * ux).toFixed(1)}`;
  const neck = length - head;
  return `M${at(0, half)} L${at(neck, half)} L${at(neck, wing)} L${at(length, 0)} L${at(neck, -wing)} L${at(neck, -half)} L${at(0, -half)} Z`;
}

function blades(x, y, radius) {
  return [0, 1, 2, 3, 4]
    .map((blade) => {
      const at = (turn, share) => {
        const angle = ((blade + turn) / 5) * 2 * Math.PI;
        return `${(x + share * radius * Math.cos(angle)).toFixed(1)} ${(y + share * radius * Math.sin(angle)).toFixed(1)}`;
      };
      return `M${x} ${y} Q${at(0.28, 0.5)} ${at(0.12, 1)} Q${at(-0.1, 0.8)} ${x} ${y} Z`;
    })
    .join(" ");
}

function fins() {
  const tubes = [267, 276, 285, 294, 303].map((y) => `M8 ${y} H124`);
  const ribs = Array.from({ length: 28 }, (_, index) => `M${12 + index * 4} 258 V312`);
  return [...tubes, ...ribs].join(" ");
}
