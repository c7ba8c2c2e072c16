// "Put this on a page": what a shop copies into its own page to show the day there, with a preview.
//
// Made when it is opened first. The preview is the view itself, in a frame as wide as chosen; its height goes into the
// snippets as the one that holds where messages are not heard. All addresses are made of this page's own.
import { element, freshId, setText } from "./element.js";
import { PARTS } from "./embedaddress.js";
import { linkOf } from "./link.js";
import { copy } from "./clipboard.js";

const LATER_MS = 300;
const WIDTHS = [320, 600, 1000];
const FIRST_HEIGHT_PX = 900;
const MOST_CONTROLS = 12;
const CONTROLS = ["air.temperature", "cooler.ua", "circulation.flow", "converter.k_factor"];
const WORDS = { finding: "Finding", keys: "Key numbers", chart: "Chart", controls: "Controls", launches: "Table of launches" };
const THEMES = [["auto", "as the reader’s device"], ["light", "light"], ["dark", "dark"]];
const UNITS = [["us", "°F and US units"], ["si", "°C and SI units"]];

const quoted = (text) => text.replace(/&/g, "&amp;").replace(/"/g, "&quot;").replace(/</g, "&lt;");

/** `good()` is the last computed day { scenario, source }; `tables` are the core's. Gives { update() }. */
export function createEmbedMaker({ store, good, tables }, root, document) {
  document.head.append(element("link", { rel: "stylesheet", href: new URL("./embedmaker.css", import.meta.url).href }));
  const here = () => new URL("./", document.location.href.split(/[?#]/)[0]);
  const labels = new Map(tables.parameters.map(({ part, key, label, part_label: owner }) => [`${part}.${key}`, { label, owner }]));
  const chosen = { show: ["finding", "keys", "chart", "controls"], controls: CONTROLS.filter((path) => labels.has(path)), locked: false, theme: "auto", units: store.state.units, accent: null, width: 600 };
  let height_px = FIRST_HEIGHT_PX;
  let hash = "";
  let turn = 0;

  function choose(patch) {
    Object.assign(chosen, patch);
    show();
    later();
  }

  function choice(name, label, options, key) {
    const id = freshId("embed");
    const select = element("select", { id, on: { change: () => choose({ [key]: select.value }) } },
      ...options.map(([value, text]) => element("option", { value, text, selected: chosen[key] === value })));
    return element("div", { class: "field" }, element("label", { class: "field-name", for: id, text: label }), select);
  }

  function tick(type, name, label, checked, act) {
    const id = freshId("embed");
    const input = element("input", { type, id, name, checked, on: { change: () => act(input.checked) } });
    return element("div", { class: "tick" }, input, element("label", { for: id, text: label }));
  }

  const group = (legend, ...inside) => element("fieldset", { class: "embed-group" }, element("legend", { text: legend }), ...inside);

  const shown = group("Show", ...PARTS.map((part) => tick("checkbox", "embed-show", WORDS[part], chosen.show.includes(part), (on) =>
    choose({ show: PARTS.filter((one) => (one === part ? on : chosen.show.includes(one))) }))));
  const access = group("The reader may",
    tick("radio", "embed-access", "change the day by the controls", true, () => choose({ locked: false })),
    tick("radio", "embed-access", "only look (locked)", false, () => choose({ locked: true })));
  const width = group("Width of the preview", ...WIDTHS.map((px) => tick("radio", "embed-width", `${px} px`, px === chosen.width, () => choose({ width: px }))));

  const list = element("ul", { class: "embed-controls" });
  const more = element("select", { id: freshId("embed"), on: { change: () => {
    if (more.value) choose({ controls: [...chosen.controls, more.value] });
    more.value = "";
  } } });
  const controls = group("Controls", list, element("div", { class: "field" }, element("label", { class: "field-name", for: more.id, text: "Add a control" }), more));

  function showControls() {
    controls.hidden = chosen.locked || !chosen.show.includes("controls");
    list.replaceChildren(...chosen.controls.map((path) => {
      const { label } = labels.get(path);
      return element("li", {}, element("span", { class: "name", text: label }), element("button", {
        type: "button", class: "step", text: "×", "aria-label": `Leave out ${label}`,
        on: { click: () => {
          choose({ controls: chosen.controls.filter((one) => one !== path) });
          more.focus();
        } },
      }));
    }));
    const owners = [...new Set([...labels.values()].map(({ owner }) => owner))];
    more.disabled = chosen.controls.length >= MOST_CONTROLS;
    more.replaceChildren(
      element("option", { value: "", text: more.disabled ? `${MOST_CONTROLS} at most` : "Choose" }),
      ...owners.map((owner) => element("optgroup", { label: owner }, ...[...labels].filter(([path, row]) => row.owner === owner && !chosen.controls.includes(path))
        .map(([path, { label }]) => element("option", { value: path, text: label })))),
    );
  }

  const colour = element("input", { type: "color", id: freshId("embed"), value: "#0b5966", disabled: true, on: { input: () => choose({ accent: colour.value }) } });
  const accent = element("div", { class: "field" },
    tick("checkbox", "embed-accent", "Accent colour of your own", false, (on) => {
      colour.disabled = !on;
      choose({ accent: on ? colour.value : null });
    }),
    element("label", { class: "hidden", for: colour.id, text: "Accent colour" }), colour);

  const frame = element("iframe", { title: "Preview of the view" });
  const stage = element("div", { class: "embed-stage scroll", tabindex: "0", role: "region", "aria-label": "Preview" }, frame);
  const alone = element("a", { target: "_blank", rel: "noopener", text: "Open the preview by itself" });
  const said = element("p", { class: "help", role: "status" });

  function snippet(title, help) {
    const id = freshId("embed");
    const area = element("textarea", { id, class: "values", readonly: true, rows: 6, spellcheck: "false" });
    const button = element("button", { type: "button", class: "plain", text: "Copy", "aria-label": `Copy: ${title}`, on: { click: async () => {
      const copied = await copy(area.value);
      if (!copied) area.select();
      setText(said, copied ? `Copied: ${title}.` : "The browser does not allow copying: the text is marked, copy it yourself.");
    } } });
    return { area, element: element("div", { class: "embed-snippet" }, element("label", { for: id, text: title }), element("p", { class: "help", text: help }), area, element("div", { class: "moves" }, button)) };
  }
  const plain = snippet("As a frame", "Works without any script. The few lines below it make each such frame on your page as tall as its content, once is enough; put them into a file where your page’s policy forbids scripts in the page.");
  const tag = snippet("As an element", "One script of this site does the rest: height, messages, several on one page.");

  /** What the address asks for, as little as says it. */
  function asked() {
    const { show, controls: paths, locked, theme, units, accent: own } = chosen;
    return {
      units,
      ...(theme === "auto" ? {} : { theme }),
      ...(own ? { accent: own } : {}),
      show: (locked ? show.filter((part) => part !== "controls") : show).join(",") || "finding",
      ...(!locked && show.includes("controls") ? { controls: paths.join(",") } : {}),
    };
  }

  function address() {
    const made = new URL("embed.html", here());
    for (const [key, value] of Object.entries(asked())) made.searchParams.set(key, value);
    if (chosen.locked) made.searchParams.set("locked", "1");
    made.hash = hash;
    return made.href;
  }

  function write() {
    const { name } = store.state.result.summary;
    const title = quoted(`${name}: heat of the transmission`);
    plain.area.value = `<iframe title="${title}" src="${quoted(address())}"
  width="100%" height="${height_px}" loading="lazy" allow="clipboard-write" referrerpolicy="no-referrer"
  sandbox="allow-scripts allow-same-origin allow-popups allow-popups-to-escape-sandbox"></iframe>
<script>
addEventListener("message", ({ source, origin, data }) => {
  if (origin !== "${here().origin}" || data?.stallheat !== 1 || data.type !== "height") return;
  for (const frame of document.querySelectorAll("iframe")) {
    if (frame.contentWindow === source && data.height_px > 0 && data.height_px < 20000) frame.height = data.height_px;
  }
});
</script>
`;
    const attributes = Object.entries(asked()).map(([key, value]) => ` ${key}="${quoted(value)}"`).join("");
    tag.area.value = `<script src="${quoted(new URL("embed.js", here()).href)}" async></script>
<stallheat-view label="${title}"${attributes}${chosen.locked ? " locked" : ""} height="${height_px}"
  day="${quoted(hash)}"></stallheat-view>
`;
  }

  function show() {
    showControls();
    frame.style.setProperty("width", `${chosen.width}px`);
  }

  let timer;
  function later() {
    clearTimeout(timer);
    timer = setTimeout(update, LATER_MS);
  }

  async function update() {
    turn += 1;
    const mine = turn;
    const { scenario, source } = good();
    const { hidden, axis } = store.state.view;
    const made = await linkOf({ scenario, source, units: chosen.units, view: { hidden, range: null, axis, launch: 0 } });
    if (mine !== turn) return;
    hash = made;
    const next = address();
    if (alone.href !== next) {
      // In the place of the old one: the preview adds no steps to the way back.
      if (frame.src) frame.contentWindow.location.replace(next);
      else frame.src = next;
    }
    alone.href = next;
    write();
  }

  addEventListener("message", ({ source, origin, data }) => {
    if (source !== frame.contentWindow || origin !== document.location.origin) return;
    if (data?.stallheat !== 1 || data.type !== "height" || !(data.height_px > 0)) return;
    height_px = Math.min(20_000, Math.ceil(data.height_px));
    frame.style.setProperty("height", `${height_px}px`);
    write();
  });

  root.append(
    element("p", { class: "help", text: "For a shop’s own site: the day as it stands now, in a page of yours. Nothing is sent anywhere, nothing is kept; only files of this site are loaded." }),
    shown, access, controls, choice("embed-theme", "Light or dark", THEMES, "theme"), choice("embed-units", "Units", UNITS, "units"), accent, width, stage, element("p", { class: "jump-alone" }, alone), plain.element, tag.element, said,
  );
  show();
  update();
  store.subscribe((state, changed) => "result" in changed && state.result && root.parentElement.open && later());
  return { update };
}
