// Light or dark, accent and background as the address asks for them, always readable.
//
// An accent is moved towards black or white until text in it can be read. A background is taken only where everything
// that stands on it can be told from it; which of the two schemes that is, it says itself.
import { contrast, GRAPHIC, hexOf, madeReadable, paintedOf, readableOn, TEXT } from "./embedcolour.js";

const TEXTS = ["--ink", "--quiet", "--alarm"];

/**
 * `lines` are the chart's, { light, dark } each. Adds to `problems` what cannot be had. Gives { isDark() };
 * `changed()` is called when the reader's scheme changes what is shown.
 */
export function createLook({ theme, accent, background }, lines, problems, changed, root) {
  const system = matchMedia("(prefers-color-scheme: dark)");
  let dark;

  const own = (name) => paintedOf(getComputedStyle(root).getPropertyValue(name));
  function put(isDark) {
    dark = isDark;
    root.dataset.scheme = dark ? "dark" : "light";
  }
  const paint = (name, rgb) => root.style.setProperty(name, hexOf(rgb));

  /** Whether all that stands on a background can be read in the present scheme. */
  const fits = () =>
    TEXTS.every((name) => contrast(own(name), background) >= TEXT) &&
    lines.every((line) => contrast(paintedOf(dark ? line.dark : line.light), background) >= GRAPHIC);

  function scheme() {
    put(theme === "auto" ? system.matches : theme === "dark");
    if (!background) return false;
    for (const isDark of theme === "auto" ? [false, true] : [dark]) {
      put(isDark);
      if (fits()) return true;
    }
    put(theme === "auto" ? system.matches : theme === "dark");
    problems.push({
      field: "background",
      value: hexOf(background),
      limit: `text on it must have a contrast of ${TEXT}, lines of ${GRAPHIC}`,
      remedy: theme === "auto" ? "Choose a lighter or a darker one." : `Choose a ${dark ? "darker" : "lighter"} one, or leave theme to auto.`,
    });
    return false;
  }

  const grounded = scheme();
  if (grounded) for (const name of ["--paper", "--raised"]) paint(name, background);
  function tint() {
    if (!accent) return;
    const papers = [own("--paper"), own("--raised")];
    const made = madeReadable(accent, papers);
    paint("--accent", made);
    paint("--on-accent", readableOn(made));
  }
  tint();
  system.addEventListener("change", () => {
    if (theme !== "auto" || grounded) return;
    put(system.matches);
    tint();
    changed();
  });
  return { isDark: () => dark };
}
