// What a picture on a canvas hangs on beside what it shows: its box, the screen's ratio, the colour scheme, paper.

// Where the style sheet did not come.
const PLAIN_REM = 14;

/** A length in rem that an element's style states as a variable, in pixels. */
export function remOf(style, name) {
  const rem = Number.parseFloat(style.getPropertyValue(name)) || PLAIN_REM;
  return Math.round(rem * Number.parseFloat(getComputedStyle(document.documentElement).fontSize));
}

/** Gives `look()`, { ratio, dark } to draw with; `redraw` hears when one of them is another than was drawn with last. */
export function followLook(redraw) {
  const dark = matchMedia("(prefers-color-scheme: dark)");
  const paper = matchMedia("print");
  let drawn = 0;
  dark.addEventListener("change", redraw);
  paper.addEventListener("change", redraw);
  addEventListener("resize", () => drawn !== devicePixelRatio && redraw());
  return () => {
    drawn = devicePixelRatio;
    return { ratio: drawn, dark: dark.matches && !paper.matches };
  };
}

/**
 * Has a canvas fill a box. Gives `look()`, { width, height, ratio, dark } to draw with, or null while there is no room;
 * `redraw` hears when it is another. The size is kept, because asking for it while drawing would lay out the page anew.
 */
export function fillBox(box, canvas, redraw) {
  let size = { width: 0, height: 0 };
  const look = followLook(redraw);
  function measure() {
    const [width, height] = [Math.floor(box.clientWidth), Math.floor(box.clientHeight)];
    if (width === size.width && height === size.height) return false;
    size = { width, height };
    canvas.style.setProperty("width", `${width}px`);
    canvas.style.setProperty("height", `${height}px`);
    return true;
  }
  new ResizeObserver(() => measure() && redraw()).observe(box);
  return () => {
    if (size.width === 0) measure();
    return size.width > 0 && size.height > 0 ? { ...size, ...look() } : null;
  };
}
