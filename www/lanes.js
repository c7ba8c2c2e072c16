// The day as blocks on the pictures' own time axis: what the car does, when the pump and the fan are on.
//
// A day of hours has passes of seconds: a block is never narrower than three pixels, and those that make heat lie on top.
// What pointer and keys do here is known to `lanehand`, which comes after the first view; what was done before is kept by
// `early` and done then.
import { blocksOf, LANES } from "./blocks.js";
import { createEarly } from "./early.js";
import { element, setAttribute, setText } from "./element.js";

const LEAST_PX = 3;
const KEYS = "Arrow keys choose a block, with Shift they change its length, with Ctrl they move it. Enter: change it below. Delete removes, Ctrl+D doubles, Ctrl+C and Ctrl+V copy.";

/** `bring()` asks for the hand, which is then given to `take`; it fails where that cannot be loaded. */
export function createLanes({ store, core, fieldOf, axisOf, bring }) {
  const caret = element("div", { class: "caret", hidden: true, "aria-hidden": "true" });
  const says = element("p", { class: "lanes-says", role: "status" });
  const keys = element("p", { class: "hidden", id: "lanes-keys", text: KEYS });
  const rounds = element("div", { class: "lane rounds", "aria-hidden": "true" });
  const lanes = LANES.map(([key, name]) => {
    const node = element("div", {
      class: `lane ${key === "car" ? "blocks" : key}`, role: "listbox", tabindex: "0", id: `lane-${key}`,
      "aria-label": { car: "Events of the day", circulation: "Circulation pump", fan: "Fan" }[key],
      "aria-describedby": keys.id, data: { lane: key },
    });
    for (const type of ["keydown", "pointerdown", "focus"]) node.addEventListener(type, (event) => hear(event, key));
    return { key, node, row: element("div", { class: "lane-row" }, element("span", { class: "lane-name", text: name, "aria-hidden": "true" }), node) };
  });
  const node = element(
    "div",
    { class: "lanes", id: "lanes" },
    element("div", { class: "lane-row" }, element("span", { class: "lane-name", text: "round", "aria-hidden": "true" }), rounds),
    ...lanes.map(({ row }) => row),
    caret, keys,
  );
  for (const type of ["pointermove", "pointerup", "pointercancel", "lostpointercapture"]) node.addEventListener(type, (event) => hear(event));
  const laneOf = (key) => lanes.find((one) => one.key === key).node;

  let blocks = { car: [], circulation: [], fan: [] };
  let blocksFor = null;
  let placed = { car: [], circulation: [], fan: [] };
  let axis = null;
  let wide = 0;
  let hand = null;
  let drawn = null; // the state that the lanes show
  let words = ""; // what stands by the lanes where no change was refused

  const layOf = ({ result, view: { range, axis: mode, held } }) => [result, range, mode, held, wide];
  const chosenOf = ({ scenario, view: { selected, round, on } }) => [scenario, selected, round, on];
  const early = createEarly({
    bring,
    drawn: () => [...layOf(drawn), ...chosenOf(store.state)],
    now: () => [...layOf(store.state), ...chosenOf(store.state)],
    lying: 6, // with the scenario
    say,
  });
  store.subscribe(early.check);

  function say(text) {
    words = text;
    if (!hand?.isDragging()) setText(says, store.state.view.refusal ?? words);
  }

  /** Hands an event on, or keeps it. */
  function hear(event, key) {
    // Whatever the pointer does next belongs to where it went down.
    if (event.type === "pointerdown" && event.button === 0) event.currentTarget.setPointerCapture(event.pointerId);
    if (words && !early.waits && (event.type === "pointerdown" || event.type === "keydown")) say("");
    if (hand) hand[event.type](event, key);
    else if (drawn) early.keep(event, key);
  }

  const isChosen = (block, { selected, round, on }) =>
    Boolean(block.field) && block.field === selected && (block.round ?? null) === (round ?? null) &&
    (block.lane === "car" ? !on : on?.lane === block.lane && on.place === block.place);
  const isAlike = (block, { selected, on }) =>
    block.field === selected && (block.lane === "car" ? !on : on?.lane === block.lane && on.place === block.place);
  const chosenIn = (lane) => blocks[lane].find((block) => isChosen(block, store.state.view));

  /** Brings the lanes up to date; `layout` is where the pictures' plot lies in `width`. */
  function update(state, layout, width) {
    axis = axisOf(state);
    wide = layout.right - layout.left;
    drawn = state;
    early.check();
    node.style.setProperty("--left", `${layout.left}px`);
    node.style.setProperty("--right", `${width - layout.right}px`);
    if (blocksFor !== state.result) [blocks, blocksFor] = [blocksOf(state, fieldOf, core.restate), state.result];
    for (const { key, node: lane } of lanes) drawLane(state, key, lane);
    drawRounds(state);
    mark(state);
  }

  function where(start_s, end_s, least) {
    const left = Math.max(0, axis.share(start_s) * wide);
    const right = Math.min(wide, axis.share(end_s) * wide);
    if (right < 0 || left > wide || axis.share(end_s) <= 1e-9 || axis.share(start_s) >= 1 - 1e-9) return null;
    return { left: Math.min(left, wide - least), width: Math.max(least, right - left) };
  }

  const places = new WeakMap();
  function put(child, { left, width }) {
    const place = `${left.toFixed(2)} ${width.toFixed(2)}`;
    if (places.get(child) === place) return;
    places.set(child, place);
    child.style.setProperty("left", `${left.toFixed(2)}px`);
    child.style.setProperty("width", `${width.toFixed(2)}px`);
  }

  // Elements are kept and filled anew, so that nothing is made while a block is dragged.
  function drawLane(state, key, lane) {
    placed[key] = [];
    let used = 0;
    for (const block of blocks[key]) {
      const at = where(block.start_s, block.end_s, LEAST_PX);
      if (!at) continue;
      const child = lane.children[used] ?? lane.appendChild(element("div", { class: "block", role: "option", id: `${lane.id}-${used}` }, element("span", { class: "block-name" })));
      used += 1;
      put(child, at);
      setAttribute(child, "data-event", block.key);
      setAttribute(child, "data-field", block.field ?? "");
      const fits = at.width > block.label.length * 6.6 + 8;
      setText(child.firstChild, fits ? block.label : "");
      setAttribute(child, "aria-label", `${block.label}${block.round ? `, round ${block.round}` : ""}, ${core.clock(block.start_s)}${block.took ? `, ${block.took}` : ""}`);
      placed[key].push({ block, child, ...at });
    }
    while (lane.children.length > used) lane.lastChild.remove();
  }

  function drawRounds(state) {
    const spans = new Map();
    for (const { round, start_s, end_s } of state.result.summary.events) {
      if (round) spans.set(round, { start_s: spans.get(round)?.start_s ?? start_s, end_s });
    }
    let used = 0;
    for (const [round, { start_s, end_s }] of spans) {
      const at = where(start_s, end_s, 1);
      if (!at) continue;
      const child = rounds.children[used] ?? rounds.appendChild(element("span", { class: "round-mark" }));
      used += 1;
      put(child, at);
      setText(child, at.width > 12 ? String(round) : "");
    }
    while (rounds.children.length > used) rounds.lastChild.remove();
  }

  /** Which blocks are chosen, or alike in other rounds. */
  function mark(state) {
    for (const { key, node: lane } of lanes) {
      let active = null;
      for (const { block, child } of placed[key]) {
        const chosen = isChosen(block, state.view);
        const alike = !chosen && isAlike(block, state.view);
        setAttribute(child, "class", `block ${block.look}${chosen ? " chosen" : ""}${alike ? " alike" : ""}`);
        setAttribute(child, "aria-selected", String(chosen));
        if (chosen) active = child;
      }
      if (active) setAttribute(lane, "aria-activedescendant", active.id);
      else lane.removeAttribute("aria-activedescendant");
    }
    if (!hand?.isDragging()) setText(says, state.view.refusal ?? words);
    says.classList.toggle("why", Boolean(state.view.refusal));
  }

  return {
    element: node,
    says,
    update,
    mark,
    isInHand: () => Boolean(hand?.isDragging()) || node.contains(document.activeElement),
    /** The hand, and to it what it works with. */
    take(create) {
      hand = create({
        node, caret, says, laneOf, isChosen, chosenIn, mark,
        get blocks() {
          return blocks;
        },
        get placed() {
          return placed;
        },
        get axis() {
          return axis;
        },
        get wide() {
          return wide;
        },
      });
      early.pass(hand);
    },
  };
}
