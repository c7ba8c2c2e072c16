// The mark of a source or sink of heat: its number on its colour, the same in every picture and list.
import { element } from "./element.js";

/** `look` is a row of the core's `tables().paths`, or nothing for heat that stays inside; `more` are attributes. */
export function swatch(look, { text = look ? String(look.number) : "", class: name = "swatch", style = {} } = {}) {
  const { light, dark, light_text: onLight, dark_text: onDark } = look ?? {};
  return element("span", {
    class: look ? name : `${name} inside`,
    "aria-hidden": "true",
    text,
    style: look ? { "--light": light, "--dark": dark, "--on-light": onLight, "--on-dark": onDark, ...style } : style,
  });
}
