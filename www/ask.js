// A question typed as one would ask it, and the part of "What if" that answers it, opened with what was said filled in.
import { element, freshId, setText } from "./element.js";
import { EXAMPLES, MORE_EXAMPLES, understand } from "./question.js";

const ANSWERED_BY = {
  plan: "the plan between rounds", size: "the size of a part", compare: "every way to spend the turnaround", band: "how sure it is", family: "one parameter at five values", guess: "guess first",
};

// What the page shows already: where it stands, and what to look at there.
const SHOWN = {
  heat: ["ledger-title", "Where the heat went, below: what made it stands there by source. Under the chart it stands by event."],
  limits: ["cautions-title", "Limits passed and fluid life used stand below; the limits themselves are in the set-up, under Everything else."],
  launches: ["launches-title", "The launches stand side by side above: fluid, flash speed and elapsed time move together."],
  lag: ["chart-title", "Compare the curves of pan and converter above: a gauge in the pan lags the converter by minutes after a run."],
};

function minuteNow() {
  const now = new Date();
  return now.getHours() * 60 + now.getMinutes();
}

/**
 * `parts` are { id: { open() → what the part offers, or undefined } }; its `ask(asks)` may give in words what it uses besides
 * what was stated.
 */
export function createAsk({ store, core }, parts, root) {
  const id = freshId("ask");
  const said = element("p", { class: "help", id: "ask-said", role: "status" });
  const input = element("input", {
    type: "text", id, class: "question", enterkeyhint: "go", autocomplete: "off", maxlength: 200, placeholder: EXAMPLES[1],
    on: {
      keydown: (event) => {
        if (event.key !== "Enter") return;
        // Else the heading that gets the focus would be pressed by the same key.
        event.preventDefault();
        answer();
      },
    },
  });
  const go = element("button", { type: "button", class: "plain", id: "ask-go", text: "Ask", on: { click: answer } });
  const example = (text) => element("li", {}, element("button", {
    type: "button", class: "plain", text,
    on: {
      click: () => {
        input.value = text;
        answer();
      },
    },
  }));
  const examples = element("ul", { class: "questions", "aria-label": "Questions to ask" }, ...EXAMPLES.map(example));
  /** What can be asked, each to be tapped: where a question is not understood. */
  const showMore = () => examples.replaceChildren(...[...EXAMPLES, ...MORE_EXAMPLES].map(example));
  root.append(element("label", { for: id, class: "ask-label", text: "Ask in your own words" }), element("div", { class: "ask-row" }, input, go), said, examples);

  const show = (node) => node.scrollIntoView({ block: "start", behavior: matchMedia("(prefers-reduced-motion: reduce)").matches ? "auto" : "smooth" });

  function answer() {
    const text = input.value.trim();
    if (text === "") {
      setText(said, "Type a question, or take one of those below.");
      input.focus();
      return;
    }
    const events = store.state.result?.summary.events ?? [];
    const found = understand(text, {
      rounds: [...new Set(events.map(({ round }) => round).filter(Boolean))],
      parameters: core.tables("us").parameters.map(({ part, key }) => `${part}.${key}`),
      minute_of_day: minuteNow(),
    });
    const notUsed = found?.unused.length > 0 ? ` Not used: ${found.unused.join(", ")}.` : "";
    if (found && found.part in SHOWN) {
      const [place, words] = SHOWN[found.part];
      setText(said, `${words}${notUsed}`);
      show(document.getElementById(place));
      return;
    }
    const part = found && parts[found.part];
    if (!part) {
      showMore();
      setText(said, "That is not understood. Ask about the call, readings and wanted temperatures, shutting down, a cooler, pump or fan, what matters, or how sure it is. Those below work: tap one.");
      return;
    }
    const offers = part.open();
    // All that is used besides the day is named, what stood in the blanks, too.
    const besides = offers?.ask?.(found.asks) ?? [];
    const used = [...found.heard, ...besides];
    setText(said, `Answered below by ${ANSWERED_BY[found.part]}${used.length > 0 ? `: ${used.join(", ")}` : ""}.${notUsed}`);
    show(part.node);
    part.node.querySelector("summary").focus({ preventScroll: true });
  }
}
