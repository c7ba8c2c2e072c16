// The head of the set-up: a typical car to start from, and the way back to the day as it was opened.
import { element, freshId, setText } from "./element.js";
import { differences } from "./scenario.js";
import { createWays, differ, waysOf } from "./ways.js";

// Whose they are: the weather is the day's, the window the crew's.
const OF_THE_DAY = ["air", "limits"];

export function createHead({ store, core }, root) {
  let cars = [];
  const tables = core.tables("us");
  const ways = createWays(tables);
  const id = freshId("car");
  const help = element("p", {
    class: "help",
    id: freshId("help"),
    text: "Invented, typical cars. Engine, converter, gears, cooler and car are replaced; air, launch window and timeline stay.",
  });
  const choose = element(
    "select",
    {
      id,
      "aria-describedby": help.id,
      on: {
        change: () => {
          const car = cars.find(({ key }) => key === choose.value);
          choose.value = "";
          if (!car) return;
          store.replace(
            { scenario: store.changed((scenario) => {
              const kept = OF_THE_DAY.filter((part) => scenario.setup?.[part]).map((part) => [part, scenario.setup[part]]);
              scenario.setup = { ...Object.fromEntries(kept), ...structuredClone(car.setup) };
            }) },
            { label: car.name, note: `Set up as: ${car.name}. ${car.sentence}` },
          );
        },
      },
    },
    element("option", { value: "", text: "Choose a car" }),
  );
  const count = element("span", { class: "count" });
  const reset = element("button", {
    type: "button", class: "plain", id: "reset-all", text: "Reset all to how the day was opened",
    on: { click: () => store.replace({ scenario: store.state.baseline }, { label: "Reset all" }) },
  });
  root.append(element(
    "div",
    { class: "setup-head" },
    element("div", { class: "control choice" }, element("label", { for: id, text: "Start from a typical car" }), choose, help),
    element("div", { class: "moves" }, reset, count),
  ));

  // What can be stated one way only counts once; what a table takes the place of counts with the table.
  const groups = [
    ...tables.tables.map(({ part, key }) => [part, [key]]),
    ...tables.parameters.map(({ part, key }) => [part, waysOf(tables, part, key)]),
    ["fluid", ["class"]],
  ];
  function changedIn({ scenario, baseline }) {
    if (scenario === baseline) return 0;
    const replaced = ([part, [key]]) => [scenario, baseline].some((one) => ways.replacedBy(one, part, key));
    return groups.filter(([part, keys]) => differ(part, keys, { scenario, baseline }) && !replaced([part, keys])).length + differences(baseline.timeline, scenario.timeline);
  }
  function show(state) {
    const changed = changedIn(state);
    reset.disabled = changed === 0 && document.activeElement !== reset;
    setText(count, changed === 0 ? "" : `${changed} ${changed === 1 ? "value" : "values"} changed`);
  }
  store.subscribe((state, changed) => ("scenario" in changed || "baseline" in changed) && show(state));
  show(store.state);

  return {
    /** Which cars there are, { key, name, sentence, setup } each: they come after the first view. Once is enough. */
    offer(list) {
      if (cars.length > 0) return;
      cars = list;
      choose.append(...cars.map(({ key, name }) => element("option", { value: key, text: name })));
    },
  };
}
