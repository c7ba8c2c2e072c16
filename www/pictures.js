// Pictures as files: PNG with two pixels for each of the picture's, and SVG. Light and with names at the lines, for a
// file stands alone; the part of the day, the lines and the launch are those shown.
import { isTrap } from "./core.js";
import { element, freshId, setText } from "./element.js";
import { launchShown } from "./passheat.js";

const [WIDTH, HEIGHT, RATIO] = [1000, 500, 2];

/** `timeOptions(state, width_px)` gives what the page shows the day over time with: { nodes, knots, ticks, overlays }. */
export function createPictures({ store, core, day, download, timeOptions }, root) {
  const { pictures } = core.tables("us");
  const choose = element("select", { id: freshId("picture") }, ...pictures.map(({ key, label }) => element("option", { value: key, text: label })));
  const said = element("p", { class: "help", role: "status" });
  const button = (text, id, act) => element("button", { type: "button", class: "plain", id, text, on: { click: act } });
  root.append(
    element("p", { class: "pick" }, element("label", { for: choose.id, text: "Picture" }), choose),
    button("Save as PNG", "save-png", () => save(png)),
    button("Save as SVG", "save-svg", () => save(svg)),
    said,
  );

  const ofLaunch = (wanted) => pictures.find(({ key }) => key === wanted).of_launch;

  function options() {
    const { state } = store;
    const picture = choose.value;
    return {
      picture, width: WIDTH, height: HEIGHT, ratio: RATIO, units: state.units, dark: false, names: true, paper: true,
      launch: launchShown(state),
      ...(ofLaunch(picture) ? {} : timeOptions(state, WIDTH)),
    };
  }

  async function save(make) {
    if (!day() || !store.state.result) return;
    setText(said, "");
    const asked = options();
    try {
      await make(asked);
    } catch (error) {
      if (isTrap(error)) throw error;
      setText(said, `Not saved. ${error?.message ?? error}`);
    }
  }

  async function png(asked) {
    const canvas = document.createElement("canvas");
    day().draw(canvas, asked);
    const blob = await new Promise((done) => canvas.toBlob(done, "image/png"));
    if (!blob) throw new Error("The browser makes no PNG of this size.");
    download(`${asked.picture}.png`, "image/png", blob);
  }

  function svg(asked) {
    download(`${asked.picture}.svg`, "image/svg+xml", day().svg(asked));
  }

  store.subscribe((state, changed) => {
    if (!state.result || !("result" in changed)) return;
    const none = state.result.summary.launches.length === 0;
    for (const option of choose.options) option.disabled = none && ofLaunch(option.value);
    if (choose.selectedOptions[0].disabled) choose.value = pictures[0].key;
  });
}
