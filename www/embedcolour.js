// Colours that a page with a view in it may choose, and their contrast.
//
// Contrast is that of WCAG 2.2: (lighter + 0.05) / (darker + 0.05) of relative luminances. Text needs 4.5 (1.4.3), what
// is no text 3 (1.4.11).

export const TEXT = 4.5;
export const GRAPHIC = 3;

/** `#rgb` or `#rrggbb` as [r, g, b] from 0 to 255, or null. */
export function rgbOf(text) {
  const [, short, long] = String(text).trim().match(/^#(?:([0-9a-f]{3})|([0-9a-f]{6}))$/i) ?? [];
  const digits = long ?? short?.replace(/./g, "$&$&");
  return digits ? [0, 2, 4].map((at) => Number.parseInt(digits.slice(at, at + 2), 16)) : null;
}

/** The same of a colour as the core and style sheets write it, `rgb(1, 2, 3)` too. */
export function paintedOf(css) {
  const parts = css.match(/^\s*rgb\((\d+), (\d+), (\d+)\)\s*$/)?.slice(1).map(Number);
  return parts ?? rgbOf(css);
}

export const hexOf = (rgb) => `#${rgb.map((part) => Math.round(part).toString(16).padStart(2, "0")).join("")}`;

function luminance(rgb) {
  const [r, g, b] = rgb.map((part) => part / 255).map((part) => (part <= 0.04045 ? part / 12.92 : ((part + 0.055) / 1.055) ** 2.4));
  return 0.2126 * r + 0.7152 * g + 0.0722 * b;
}

export function contrast(one, other) {
  const [darker, lighter] = [luminance(one), luminance(other)].sort((a, b) => a - b);
  return (lighter + 0.05) / (darker + 0.05);
}

const BLACK = [0, 0, 0];
const WHITE = [255, 255, 255];

/** Black or white, whichever reads better on a colour. */
export const readableOn = (rgb) => (contrast(rgb, BLACK) >= contrast(rgb, WHITE) ? BLACK : WHITE);

/** The colour itself where it can be read on all `papers`, else the nearest to it on the way to black or white that can. */
export function madeReadable(rgb, papers, least = TEXT) {
  const end = readableOn(papers[0]);
  for (let part = 0; part <= 1; part += 0.02) {
    // As it will be shown: whole steps.
    const mixed = rgb.map((from, at) => Math.round(from + (end[at] - from) * part));
    if (papers.every((paper) => contrast(mixed, paper) >= least)) return mixed;
  }
  return end;
}
