// Pictures that come from the core as SVG text, one for each of the two colour schemes; the style sheet shows one of them.

function picture(text, scheme) {
  const svg = new DOMParser().parseFromString(text, "image/svg+xml").documentElement;
  if (svg.nodeName !== "svg") return null;
  const node = document.importNode(svg, true);
  node.classList.add(`for-${scheme}`);
  return node;
}

/** The two nodes of { light, dark }; null in the place of one that could not be drawn. */
export const inBothSchemes = ({ light, dark }) => [picture(light, "light"), picture(dark, "dark")];
