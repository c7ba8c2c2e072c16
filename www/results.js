// What the day came to, in words and numbers: the finding, the key numbers, the launches, the limits passed, and what keeps
// a change from being computed.
import { element, freshId, joined, setText, settle } from "./element.js";
import { keyNumbers } from "./keynumbers.js";
import { copy } from "./clipboard.js";
import { whole } from "./quantity.js";

const QUIET_MS = 700;

export const signed = (value) => (Number(value.toFixed(0)) > 0 ? `+${value.toFixed(0)}` : whole(Number(value.toFixed(0))));
// A change is that of the numbers shown.
const shownMs = ({ elapsed_s: time_s }) => Number(time_s.toFixed(3));
export const drift = (change_s) => `${change_s < -0.0005 ? "−" : change_s < 0.0005 ? "±" : "+"}${Math.abs(change_s).toFixed(3)}`;

export function createResults({ store, seen, actions }, document) {
  const $ = (id) => document.getElementById(id);

  function showFinding({ summary }) {
    // The first sentence is the headline; a full stop followed by a space ends it.
    const cut = summary.finding.indexOf(". ") + 1;
    const [first, rest] = cut > 0 ? [summary.finding.slice(0, cut), summary.finding.slice(cut + 1)] : [summary.finding, ""];
    setText($("finding"), joined(first));
    setText($("finding-more"), joined(rest));
    setText($("advice"), joined(summary.advice));
  }

  function showKeys({ summary, opened }) {
    const unit = summary.temperature_unit;
    const last = summary.launches.at(-1);
    const numbers = keyNumbers(summary);
    const before = keyNumbers(opened);
    const put = (id, value, was) => {
      setText($(id), value === null ? "–" : `${whole(value)} ${unit}`);
      const change = value === null || was === null ? 0 : Math.round(value) - Math.round(was);
      setText($(`${id}-change`), change === 0 ? "" : `${signed(change)} since opened`);
    };
    put("key-peak", numbers.peak, before.peak);
    put("key-launch", numbers.launch, before.launch);
    put("key-spread", numbers.spread, before.spread);
    setText($("key-launch-name"), last?.round ? `Pan, round ${last.round}` : "Pan, last launch");
  }

  function showCautions({ summary }) {
    settle(
      $("cautions"),
      ...(summary.cautions.length > 0
        ? summary.cautions.map((caution) =>
            element("li", {}, element("span", { class: "clock", text: `First at ${caution.clock}.` }), " ", joined(caution.text)))
        : [element("li", { text: "No limit of this set-up is passed." })]),
    );
    settle($("safety-list"), ...summary.safety.map((text) => element("li", { text })));
  }

  function showLaunches({ summary }) {
    const unit = summary.temperature_unit;
    $("launches").hidden = summary.launches.length === 0;
    const [first] = summary.launches;
    const firstPass = summary.launches.find((launch) => launch.pass)?.pass;
    setText($("launch-window"), joined(
      `Temperatures in ${unit}; window for the pan: ${whole(summary.window[0])} to ${whole(summary.window[1])} ${unit}. ` +
      "Flash: speed at which engine and stalled converter balance. ET: elapsed time in s. Small: change since the first.",
    ));
    settle(
      $("launch-rows"),
      ...summary.launches.map((launch) => {
        const below = launch.from_window < 0;
        const off = Math.abs(Math.round(launch.pan) - Math.round(summary.window[below ? 0 : 1]));
        const where = launch.from_window === 0 ? "inside" : `${off === 0 ? "just" : off} ${below ? "below" : "above"}`;
        return element(
          "tr",
          {},
          element("th", { scope: "row", text: launch.round ? String(launch.round) : "–" }),
          element("td", { text: launch.clock }),
          element("td", { text: whole(launch.converter) }),
          element("td", { text: whole(launch.pan) }),
          element("td", { class: launch.from_window === 0 ? "inside" : "outside", text: where }),
          launch.flash_rpm == null
            ? element("td", { text: "–" })
            : element("td", {}, `${whole(launch.flash_rpm)} `, element("span", { class: "drift", text: signed(Math.round(launch.flash_rpm) - Math.round(first.flash_rpm ?? launch.flash_rpm)) })),
          launch.pass
            ? element("td", {}, `${launch.pass.elapsed_s.toFixed(3)} `, element("span", { class: "drift", text: drift(shownMs(launch.pass) - shownMs(firstPass)) }))
            : element("td", { text: "–" }),
        );
      }),
    );
  }

  let timer;
  function speak(text) {
    clearTimeout(timer);
    timer = setTimeout(() => setText($("spoken"), text), QUIET_MS);
  }

  // An error stands by the results and, where its field has a box, at that box.
  function showProblem(problem) {
    for (const node of document.querySelectorAll("[data-invalid]")) {
      delete node.dataset.invalid;
      node.removeAttribute("aria-invalid");
      node.setAttribute("aria-describedby", node.dataset.unit ?? "");
    }
    for (const node of document.querySelectorAll(".field-error")) node.remove();
    document.body.classList.toggle("stale", Boolean(problem?.stale));
    $("problem").hidden = !problem;
    setText($("stale-note"), problem?.stale ? "Last good result: change not computed." : "");
    if (!problem) return;
    setText($("problem-title"), problem.title);
    setText($("problem-text"), problem.text);
    $("problem-link").hidden = !problem.link;
    $("problem-link-text").value = problem.link ?? "";
    $("problem-actions").replaceChildren(
      ...problem.actions.map(([text, act]) => element("button", { type: "button", class: "plain", text, on: { click: () => actions[act]() } })),
    );
    // Who typed what cannot be computed reads why where he types, whatever place the error names.
    const hand = problem.stale && document.activeElement?.matches?.("input.number") ? document.activeElement : null;
    // An event as a whole: how long it lasts is what can be done about it at once.
    const boxes = ["", ".duration", ".at_most"]
      .map((key) => (problem.field ? document.querySelectorAll(`:is(.inputs, .sheet) [data-field="${CSS.escape(problem.field + key)}"]`) : []))
      .find((found) => found.length > 0) ?? [];
    for (const box of boxes) {
      const note = noteAt(box, problem.advice);
      box.dataset.invalid = "";
      box.setAttribute("aria-invalid", "true");
      box.setAttribute("aria-describedby", note.id);
    }
    if (hand && ![...boxes].includes(hand)) noteAt(hand, problem.text);
    if (problem.field && boxes.length === 0) nearest(problem.field)?.append(element("p", { class: "field-error", text: problem.text }));
  }

  /** What is wrong, right under a box. */
  function noteAt(box, text) {
    const note = element("p", { class: "field-error", id: freshId("field-error"), text });
    const holder = box.closest(".control, .field, .event, .turnarounds, .round-group") ?? box.parentElement;
    // An event is long: its message stands under the line of the box.
    if (holder.matches(".event")) [...holder.children].find((child) => child.contains(box)).after(note);
    else holder.append(note);
    return note;
  }

  // An event without the box, or one whose boxes are not made yet: its row.
  function nearest(field) {
    const [place] = field.match(/^timeline\[\d+\](?:\.events\[\d+\])?/) ?? [];
    if (!place) return null;
    return document.querySelector(`[data-event="${CSS.escape(place)}"]`)
      ?? document.querySelector(`[data-rounds="${CSS.escape(place)}"]`);
  }

  $("problem-link-copy").addEventListener("click", async () => {
    if (!(await copy($("problem-link-text").value))) $("problem-link-text").select();
  });
  seen($("launches"), ({ result }, changed) => {
    if (!("result" in changed) || !result) return;
    showLaunches(result);
  });

  // Of the first view, though it lies further down: no file that fails to come may leave it empty.
  seen($("cautions"), ({ result }, changed) => "result" in changed && result && showCautions(result));

  let problemShown = null;
  let none = true;
  store.subscribe((state, changed) => {
    if ("result" in changed && state.result) {
      // The page comes with the launches of another day.
      if (none) showLaunches(state.result);
      none = false;
      showFinding(state.result);
      showKeys(state.result);
      setText($("day-name"), state.result.summary.name);
      setText($("day-note"), state.result.summary.note);
    }
    if ("problem" in changed && (state.problem || problemShown)) showProblem(state.problem);
    problemShown = state.problem;
    if ("result" in changed || "problem" in changed) {
      speak(state.problem ? `${state.problem.title} ${state.problem.text}` : state.result?.summary.finding ?? "");
    }
  });
}
