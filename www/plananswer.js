// The answer of a plan: a sentence, the schedule drawn and in steps, every way by itself; of a whole day the launches.
import { element, freshId, setText } from "./element.js";
import { whole } from "./quantity.js";

const LANES = [["engine", "Idle"], ["pump", "Pump"], ["fan", "Fan"]];
const WORDS = ["What", "On", "Rest before it"];
const head = (...texts) => element("thead", {}, element("tr", {}, ...texts.map((text) => element("th", { scope: "col", class: WORDS.includes(text) ? "words" : null, text }))));

/** `apply()` puts the plan into the day. Gives { show(summary, units) }; null takes the answer away. */
export function createPlanAnswer(root, { apply }) {
  const says = element("p", { class: "what-if-says", id: "plan-says", role: "status" });
  const put = element("button", { type: "button", class: "plain", id: "plan-apply", text: "Put this plan into the day", on: { click: apply } });
  const drawing = element("div", { class: "schedule", role: "img", "aria-label": "The schedule until the call", hidden: true });
  const steps = element("table", { id: "plan-steps" });
  const waysId = freshId("ways");
  const ways = element("details", { class: "note" }, element("summary", {}, element("span", { text: "Every way by itself, at its best" })), element("table", { id: "plan-ways", "aria-labelledby": waysId }));
  const launches = element("table", { id: "plan-launches" });
  const cautions = element("ul", { class: "help", id: "plan-cautions" });
  // On a phone the blanks fill the screen: the sentence stays in sight below them.
  root.before(says);
  root.append(drawing, steps, launches, element("div", { class: "moves" }, put), ways, cautions);

  function show(said) {
    for (const node of [put, drawing, steps, ways, launches, cautions]) node.hidden = said === null;
    setText(says, said?.says ?? "");
    says.classList.toggle("old", root.classList.contains("old"));
    if (!said) return;
    put.disabled = said.isIn;
    setText(put, said.isIn ? "The day has this plan" : "Put this plan into the day");
    cautions.replaceChildren(...said.cautions.map((text) => element("li", { text })));
    drawing.hidden = steps.hidden = ways.hidden = said.every;
    launches.hidden = !said.every;
    if (said.every) showLaunches(said);
    else showRest(said);
  }

  function showRest(said) {
    const unit = said.temperature_unit;
    draw(said);
    const [atLine, last] = [said.ways.find((way) => way.chosen)?.pan, said.steps.at(-1)?.pan];
    const why = atLine > last + 0.5 ? " What lies between the last switch and the line (the drive there, burnout, hold) warms it further." : "";
    steps.replaceChildren(
      element("caption", { text: `What to do, and what the pan then reads in ${unit}.${why}` }),
      head("When", "What", "Pan"),
      element("tbody", {}, ...said.steps.map((step) => element("tr", {},
        element("th", { scope: "row", text: step.when }), element("td", { class: "words", text: step.what }), element("td", { text: whole(step.pan) }))),
      ...said.ways.filter((way) => way.chosen).map((way) => element("tr", {},
        element("th", { scope: "row", text: "at the line" }), element("td", { class: "words", text: "launch" }), element("td", { text: whole(way.pan) })))),
    );
    ways.lastElementChild.replaceChildren(
      element("caption", { text: `The pan at the launch in ${unit}, its distance from the window, the charge taken. The plan’s way is marked.` }),
      head("Way", "Pan", "Off by", "Ah", "On"),
      element("tbody", {}, ...said.ways.map((way) => element("tr", { class: way.chosen ? "chosen" : null },
        element("th", { scope: "row", text: `${way.chosen ? "▸ " : ""}${way.label}` }),
        element("td", { text: whole(way.pan) }),
        element("td", { text: way.inside ? "in" : `${way.off > 0 ? "+" : "−"}${Math.max(1, Math.round(Math.abs(way.off)))}` }),
        element("td", { text: way.used_ah.toFixed(1) }),
        element("td", { class: "words", text: way.on })))),
    );
  }

  function draw({ lanes, free_s: free, free_text: length, says: text }) {
    drawing.setAttribute("aria-label", `The schedule until the call: ${text}`);
    drawing.replaceChildren(
      ...LANES.map(([key, name]) => element("div", { class: "schedule-lane", data: { lane: key } },
        element("span", { class: "schedule-name", text: name }),
        element("span", { class: "schedule-bar" },
          ...(lanes[key] ? [element("span", { class: "schedule-on", style: { "--from": lanes[key][0] / free, "--share": (lanes[key][1] - lanes[key][0]) / free } })] : [])))),
      element("div", { class: "schedule-ends" }, element("span", { text: "now" }), element("span", { text: `call, ${length}` })),
    );
  }

  function showLaunches(said) {
    const unit = said.temperature_unit;
    launches.replaceChildren(
      element("caption", { text: `The pan at the launch of each round in ${unit}: as the day is, as planned, and what to do in the rest before.` }),
      head("Rd.", "Is", "Plan", "Ah", "Rest before it"),
      element("tbody", {}, ...said.launches.map((launch) => element("tr", {},
        element("th", { scope: "row", text: launch.round ? String(launch.round) : "–" }),
        element("td", { text: whole(launch.before) }),
        element("td", { text: whole(launch.planned) }),
        element("td", { text: launch.used_ah.toFixed(1) }),
        element("td", { class: "words", text: launch.what ?? "none: as it is" })))),
    );
  }

  return { show };
}
