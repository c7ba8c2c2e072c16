// What pointer and keys do in the lanes of the day: blocks are chosen, dragged, made longer, moved, removed.
//
// A lane is a list box: arrows choose, Shift and arrows change the length, Ctrl and arrows move, Enter goes on in
// the sheet. A mouse drags a block or its edges at once, a finger those of the chosen block; a drag along an empty
// part of the pump's or fan's lane switches it on there.
import { lengthOf } from "./axis.js";
import {
  addOnTime, fixed, fixedEnd, fixedSwitch, isThere, lengthen, removeOnTime, setOnTime,
} from "./blockedits.js";
import { duplicateEvent, insertEvent, placeOf } from "./edits.js";
import { setText } from "./element.js";
import { repeated } from "./history.js";
import { eventAt } from "./scenario.js";
import { stepAt } from "./written.js";

const EDGE_PX = 7;
const EDGE_TOUCH_PX = 22;
const DRAG_PX = 4;

/** `lanes` is what the lanes give to a hand: what they show, and where. Gives what they hand their events to, by type. */
export function createLaneHand({ store, core, days, toSheet }, lanes) {
  const { restate } = core;
  const { node, caret, says, laneOf, isChosen, chosenIn, mark } = lanes;
  const again = repeated();
  let drag = null;
  let copied = null;

  // The day under a drag changed by something else: it ends where it is.
  days.onForeign(() => drag && stop());

  /** The block at a place of a lane; of several near by the shortest, because it is hardest to hit. */
  function find(key, x) {
    const distance = (one) => Math.max(0, one.left - x, x - one.left - one.width);
    const hit = lanes.placed[key].filter((one) => distance(one) === 0);
    const short = lanes.placed[key].filter((one) => one.width < 12 && distance(one) < 6);
    const choice = (short.length > 0 && !hit.some((one) => one.width < 12) ? short : hit)
      .sort((a, b) => distance(a) - distance(b) || a.width - b.width);
    return choice[0] ?? null;
  }

  function choose(block, cursor = true) {
    const { round = null, field, lane, place } = block;
    store.view({
      selected: field, round, on: lane === "car" || place === null ? null : { lane, place }, refusal: null,
      ...(cursor ? { cursor_s: (block.start_s + block.end_s) / 2 } : {}),
    });
  }

  /* Pointer */

  function edgeOf(one, x, touch) {
    // Inside a third of the block at most, so that its middle moves it; a finger may take hold outside, too.
    const inside = Math.min(touch ? EDGE_TOUCH_PX : EDGE_PX, one.width / 3);
    const outside = touch ? EDGE_TOUCH_PX : 2;
    const [left, right] = [x - one.left, one.left + one.width - x];
    if (right <= inside && right >= -outside) return "end";
    if (left <= inside && left >= -outside && one.block.lane !== "car") return "start";
    return null;
  }

  function onDown(event, key) {
    if (event.button !== 0 || drag || !lanes.axis) return;
    const lane = laneOf(key);
    const x = event.clientX - lane.getBoundingClientRect().left;
    const touch = event.pointerType !== "mouse";
    const chosen = lanes.placed[key].find(({ block }) => isChosen(block, store.state.view));
    // The edges of the chosen block go before what else is there.
    const edge = chosen && edgeOf(chosen, x, touch);
    const one = edge ? chosen : find(key, x);
    const grab = edge ?? (one && !touch ? edgeOf(one, x, touch) : null) ?? "move";
    const near = one && (!touch || one === chosen);
    drag = { key, lane, id: event.pointerId, from: x, x, one, grab, begun: false, can: !touch || near, alt: event.altKey, gesture: Symbol("drag"), changed: false };
  }

  function onMove(event) {
    if (!drag) return hover(event);
    if (event.pointerId !== drag.id) return;
    drag.x = event.clientX - drag.lane.getBoundingClientRect().left;
    drag.alt = event.altKey;
    if (!drag.begun && Math.abs(drag.x - drag.from) < DRAG_PX) return;
    if (!drag.can) {
      // A finger that does not hold the chosen block looks along the day.
      store.view({ cursor_s: lanes.axis.time(Math.min(1, Math.max(0, drag.x / lanes.wide))) });
      drag.begun = true;
      return;
    }
    const begins = !drag.begun;
    if (begins) begin();
    if (!drag || drag.frame) return;
    // What shows the chosen block is made in this frame; the day as well would make it a long one.
    drag.frame = requestAnimationFrame(begins ? () => (drag.frame = requestAnimationFrame(follow)) : follow);
  }

  function hover(event) {
    const lane = event.target.closest?.("[data-lane]");
    if (!lane || event.pointerType !== "mouse") return;
    const one = find(lane.dataset.lane, event.clientX - lane.getBoundingClientRect().left);
    const edge = one && edgeOf(one, event.clientX - lane.getBoundingClientRect().left, false);
    lane.style.setProperty("cursor", edge && !fixedEnd(store.state.scenario, one.block) ? "ew-resize" : one ? "grab" : "crosshair");
  }

  /** Why a block cannot be dragged by its "start", its "end" or as a whole, or null. */
  function whyFixed(block, grab) {
    const { scenario } = store.state;
    if (grab === "end") return fixedEnd(scenario, block);
    // An event is moved in all rounds alike, whatever one of them has of its own.
    return block.lane === "car" && isThere(scenario, block) ? null : fixed(scenario, block);
  }

  function begin() {
    const { one, key, grab } = drag;
    drag.begun = true;
    node.classList.add("dragging");
    if (!one) {
      if (key === "car") return stop();
      return beginNew();
    }
    drag.block = one.block;
    choose(drag.block, false);
    const why = whyFixed(drag.block, grab);
    if (why) {
      days.refuse(why);
      return stop();
    }
    if (key === "car" && grab === "end") {
      const { event, start_s } = drag.block;
      store.view({ held: { event, scale: lanes.axis.scale, share: lanes.axis.share(start_s) } });
    }
    drag.offset_s = lanes.axis.time(drag.from / lanes.wide) - drag.block.start_s;
  }

  function beginNew() {
    const time_s = lanes.axis.time(drag.from / lanes.wide);
    const car = lanes.blocks.car.find((block) => block.start_s <= time_s && block.end_s > time_s);
    if (!car?.field) return stop();
    const why = fixedSwitch(store.state.scenario, { ...car, lane: drag.key });
    if (why) {
      choose(car, false);
      days.refuse(why);
      return stop();
    }
    drag.fresh = { ...car, lane: drag.key, place: null };
  }

  const eventOf = (block) => store.state.result.summary.events[block.event];

  function follow() {
    if (!drag) return;
    drag.frame = 0;
    const { key, grab, block, fresh, alt, gesture } = drag;
    const share = drag.x / lanes.wide;
    let edit = null;
    if (fresh) {
      edit = newOnTime(fresh, share, alt);
    } else if (key === "car" && grab === "move") {
      return showCaret(block, share);
    } else if (key === "car") {
      const event = eventOf(block);
      const weight = (share - lanes.axis.share(event.start_s)) / lanes.axis.scale;
      edit = lengthen(store.state, { ...block, end_s: event.end_s, start_s: event.start_s }, lengthOf(lanes.axis.axis, weight), restate, alt);
    } else {
      edit = onTimeEdit(block, grab, share, alt);
    }
    if (!edit || edit.says === drag.said) return;
    drag.said = edit.says;
    if (days.apply(edit.label, edit.change, { gesture, round: block?.round ?? fresh?.round ?? null })) {
      drag.changed = true;
      edit.done?.();
      setText(says, edit.says);
      drag.last = edit.says;
    } else setText(says, [drag.last && `${drag.last}, and no longer.`, store.state.view.refusal].filter(Boolean).join(" "));
  }

  /** The end of an on-time at a time of its event: null is the event's own end. */
  function within(event, time_s, alt) {
    const length_s = event.end_s - event.start_s;
    const step = alt ? 0.1 : stepAt(length_s / 4);
    const at = Math.round((time_s - event.start_s) / step) * step;
    return Math.min(length_s, Math.max(0, at));
  }

  function onTimeEdit(block, grab, share, alt) {
    const event = eventOf(block);
    const length_s = event.end_s - event.start_s;
    const time_s = lanes.axis.time(share);
    const least = Math.min(length_s, alt ? 0.1 : stepAt(length_s / 4));
    let [from, to] = [block.start_s - event.start_s, block.end_s - event.start_s];
    if (grab === "start") from = Math.min(to - least, within(event, time_s, alt));
    else if (grab === "end") to = Math.max(from + least, within(event, time_s, alt));
    else {
      const width = to - from;
      from = Math.min(length_s - width, within(event, time_s - drag.offset_s, alt));
      to = from + width;
    }
    return setOnTime(store.state, block, Math.max(0, from), to >= length_s - 1e-6 ? null : to, block.label, grab !== "move");
  }

  function newOnTime(fresh, share, alt) {
    const event = eventOf(fresh);
    const ends = [drag.from / lanes.wide, share].map((part) => within(event, lanes.axis.time(part), alt)).sort((a, b) => a - b);
    const [from, to] = ends;
    if (to - from <= 0) return null;
    const last = to >= event.end_s - event.start_s - 1e-6 ? null : to;
    const word = fresh.lane === "fan" ? "Fan" : "Pump";
    if (fresh.place === null) {
      let place = null;
      return {
        label: `${word}: on`,
        says: `${word} on`,
        change(scenario) {
          place = addOnTime(scenario, fresh.field, fresh.lane, from, last, restate);
        },
        done: () => (fresh.place = place),
      };
    }
    return setOnTime(store.state, fresh, from, last, word);
  }

  /** Where a moved event would come to lie: among its neighbours of the same round, or of the day. */
  function slot(block, share) {
    const { list, place, at } = placeOf(store.state.scenario, block.field);
    const spanOf = (number) => {
      const name = at(number);
      const own = lanes.blocks.car.filter((one) => one.field && (one.field === name || one.field.startsWith(`${name}.`)) &&
        (!name.includes(".events[") || one.round === block.round));
      return own.length > 0 ? [lanes.axis.share(own[0].start_s), lanes.axis.share(own.at(-1).end_s)] : null;
    };
    const spans = list.map((_, number) => spanOf(number));
    const before = spans.filter((span, number) => number !== place && span && (span[0] + span[1]) / 2 < share).length;
    const others = spans.filter((_, number) => number !== place);
    const edge = before > 0 ? others[before - 1]?.[1] : others[0]?.[0];
    return { to: before, edge: before >= place && others[before - 1] ? others[before - 1][1] : edge, stays: before === place };
  }

  function showCaret(block, share) {
    drag.slot = slot(block, share);
    caret.hidden = drag.slot.stays;
    caret.style.setProperty("transform", `translateX(${(drag.slot.edge * lanes.wide).toFixed(1)}px)`);
    const { list, place } = placeOf(store.state.scenario, block.field);
    const neighbour = list.filter((_, number) => number !== place)[drag.slot.to - 1];
    setText(says, drag.slot.stays ? `${block.label} stays where it is` : neighbour ? `${block.label} comes after ${neighbour.name ?? core.kindLabel(neighbour.event) ?? "the rounds"}` : `${block.label} comes first`);
  }

  function stop() {
    if (!drag) return;
    cancelAnimationFrame(drag.frame);
    const { last = null } = drag;
    drag = null;
    caret.hidden = true;
    node.classList.remove("dragging");
    if (store.state.view.held) store.view({ held: null });
    // What was done so far stays, and with it why it went no further.
    if (last && store.state.view.refusal) store.view({ refusal: `${last}, and no longer. ${store.state.view.refusal}` });
    mark(store.state);
  }

  /** What has been dragged so far is taken back. */
  function cancel() {
    if (!drag) return;
    const { changed } = drag;
    stop();
    if (changed) store.undo();
  }

  function onUp(event) {
    if (!drag || event.pointerId !== drag.id) return;
    const { begun, can, key, grab, x, block, slot: to, fresh } = drag;
    if (drag.frame) {
      cancelAnimationFrame(drag.frame);
      follow();
    }
    const made = drag.changed && fresh;
    stop();
    // A tap beside the chosen block, where its edge can be taken hold of, means what lies there.
    if (!begun) return tap(key, find(key, x), x);
    if (can && key === "car" && grab === "move" && block && to && !to.stays) days.move(block.field, to.to);
    if (made) store.view({ selected: fresh.field, round: fresh.round, on: { lane: fresh.lane, place: fresh.place } });
  }

  function tap(key, one, x) {
    if (one?.block.field) return choose(one.block);
    // An empty part of the pump's or fan's lane belongs to the event above it.
    const car = find("car", x);
    if (car?.block.field) choose(car.block);
    else if (car) store.view({ cursor_s: (car.block.start_s + car.block.end_s) / 2, refusal: "No event stands here; add one below." });
  }

  /* Keys */

  function step(key, by) {
    const list = lanes.blocks[key].filter(({ field }) => field);
    if (list.length === 0) return;
    const at = list.findIndex((block) => isChosen(block, store.state.view));
    const near = list.findIndex(({ end_s: end }) => end > store.state.view.cursor_s);
    const from = at >= 0 || !Number.isFinite(by) ? at + by : Math.max(0, near);
    const to = Math.min(list.length - 1, Math.max(0, from));
    choose(list[to]);
    show(list[to]);
  }

  /** Moves the part shown so that a block is in it. */
  function show({ start_s, end_s }) {
    if (lanes.axis.share(start_s) < 1 - 1e-9 && lanes.axis.share(end_s) > 1e-9) return;
    const half = (lanes.axis.end_s - lanes.axis.start_s) / 2;
    const middle = (start_s + end_s) / 2;
    store.view({ range: { start_s: middle - half, end_s: middle + half } });
  }

  function resizeByKey(block, direction, coarse) {
    const why = fixedEnd(store.state.scenario, block);
    if (why) return days.refuse(why);
    const event = eventOf(block);
    const length_s = block.end_s - block.start_s;
    if (block.lane === "car") {
      const by = stepAt(length_s) * (coarse ? 10 : 1);
      const { label, change } = lengthen(store.state, block, Math.max(by / 10, length_s + direction * by), restate);
      return days.apply(label, change, { gesture: again(), round: block.round });
    }
    const from = block.start_s - event.start_s;
    const whole = event.end_s - event.start_s;
    const by = stepAt(whole / 4) * (coarse ? 10 : 1);
    const to = Math.min(whole, Math.max(from + by / 10, block.end_s - event.start_s + direction * by));
    return make(setOnTime(store.state, block, from, to >= whole - 1e-6 ? null : to, block.label), block);
  }

  /** Makes a change by a key, where it changes anything. */
  function make(edit, block) {
    return edit ? days.apply(edit.label, edit.change, { gesture: again(), round: block.round }) : false;
  }

  function moveByKey(block, direction, coarse) {
    if (block.lane === "car") return days.shift(block.field, direction);
    const why = fixed(store.state.scenario, block);
    if (why) return days.refuse(why);
    const event = eventOf(block);
    const whole = event.end_s - event.start_s;
    const width = block.end_s - block.start_s;
    const by = stepAt(whole / 4) * (coarse ? 10 : 1);
    const from = Math.min(whole - width, Math.max(0, block.start_s - event.start_s + direction * by));
    return make(setOnTime(store.state, block, from, from + width, block.label, false), block);
  }

  function remove(block) {
    if (block.lane === "car") {
      days.remove(block.field);
      return;
    }
    const why = fixed(store.state.scenario, block);
    if (why) {
      days.refuse(why);
      return;
    }
    days.apply(`${block.label}: off`, (scenario) => removeOnTime(scenario, block));
    store.view({ on: null });
  }

  function onKey(event, key) {
    if (event.key === "Escape") {
      if (drag) cancel();
      else store.view({ selected: null, on: null, refusal: null });
      return;
    }
    if (drag || event.altKey) return;
    const block = chosenIn(key);
    const direction = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
    const control = event.ctrlKey || event.metaKey;
    const letter = control && !event.shiftKey ? event.key.toLowerCase() : "";
    const act =
      direction && block && event.shiftKey ? () => resizeByKey(block, direction, control)
      : direction && block && control ? () => moveByKey(block, direction, false)
      : direction && !control ? () => step(key, direction)
      : event.key === "Home" && !control ? () => step(key, -Infinity)
      : event.key === "End" && !control ? () => step(key, Infinity)
      : event.key === "Enter" && block ? () => toSheet()
      : (event.key === "Delete" || event.key === "Backspace") && block ? () => remove(block)
      : letter === "d" && block && key === "car" ? () => days.apply(`Double ${block.label}`, (scenario) => duplicateEvent(scenario, block.field))
      : letter === "c" && block && key === "car" ? () => (copied = structuredClone(eventAt(store.state.scenario, block.field)))
      : letter === "v" && copied && key === "car" ? () => paste(block)
      : null;
    if (!act) return;
    event.preventDefault();
    act();
  }

  function paste(block) {
    const event = structuredClone(copied);
    // Only one event of a round can last until its turnaround is over.
    if (event.duration === "rest") event.duration = "5 min";
    days.apply("Paste an event", (scenario) => insertEvent(scenario, block?.field ?? null, 1, event));
  }

  return {
    isDragging: () => drag !== null,
    // What the lanes hear, by type.
    pointerdown: onDown,
    pointermove: onMove,
    pointerup: onUp,
    pointercancel: cancel,
    lostpointercapture: (event) => drag && event.pointerId === drag.id && cancel(),
    keydown: onKey,
    focus: (event, key) => laneOf(key).matches(":focus-visible") && !chosenIn(key) && step(key, 0),
  };
}
