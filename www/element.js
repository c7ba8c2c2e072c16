// Makes DOM elements: `element("p", { class: "note", text: "…" }, child, …)`.
//
// `text` sets the text, `on` adds listeners, `data` fills the dataset, `style` sets custom properties by
// CSSOM (an inline style attribute would need a weaker policy); everything else is an attribute.
// An attribute that is false, null or undefined is left out, true is an empty one.

const SVG = "http://www.w3.org/2000/svg";
const SVG_NAMES = new Set(["svg", "line", "path", "rect", "g", "circle", "ellipse", "text", "defs", "marker"]);

export function element(name, attributes = {}, ...children) {
  const node = SVG_NAMES.has(name) ? document.createElementNS(SVG, name) : document.createElement(name);
  for (const [key, value] of Object.entries(attributes)) {
    if (key === "text") node.textContent = value;
    else if (key === "on") for (const [type, listener] of Object.entries(value)) node.addEventListener(type, listener);
    else if (key === "data") Object.assign(node.dataset, value);
    else if (key === "style") for (const [property, to] of Object.entries(value)) node.style.setProperty(property, to);
    else if (value === true) node.setAttribute(key, "");
    else if (value !== false && value !== null && value !== undefined) node.setAttribute(key, value);
  }
  node.append(...children.filter((child) => child !== null && child !== undefined && child !== false));
  return node;
}

let count = 0;

/** An id that no other element has. */
export function freshId(prefix) {
  count += 1;
  return `${prefix}-${count}`;
}

/** Sets text only where it differs, so that nothing is laid out or spoken again in vain. */
export function setText(node, text) {
  if (node.textContent !== text) node.textContent = text;
}

/** A text whose numbers keep their units on a line. */
export const joined = (text) => text.replace(/(\d) (?=[°%]|(?:s|min|h|rpm|psi|bar)\b)/g, "$1\u00a0");

/** Sets a text that has its words only once the promise `arrived` is kept: what `says()` gives until then, and what then. */
export function textLater(node, says, arrived) {
  const put = () => setText(node, says() ?? "");
  put();
  arrived.then(put, () => {});
}

/** Sets an attribute only where it differs, so that no style is looked up again in vain. */
export function setAttribute(node, name, value) {
  if (node.getAttribute(name) !== value) node.setAttribute(name, value);
}

/**
 * Gives `parent` these children, like `replaceChildren`, but keeps what is there and changes only what differs: a
 * table that is filled anew on every move of a slider is then not laid out anew. For elements without listeners.
 */
export function settle(parent, ...children) {
  const old = [...parent.childNodes];
  children.forEach((child, place) => {
    const node = typeof child === "string" ? document.createTextNode(child) : child;
    const before = old[place];
    if (!before) parent.append(node);
    else if (before.isEqualNode(node)) return;
    else if (before.nodeName !== node.nodeName) before.replaceWith(node);
    else if (node.nodeType === Node.TEXT_NODE) {
      before.data = node.data;
    } else {
      for (const { name } of [...before.attributes]) if (!node.hasAttribute(name)) before.removeAttribute(name);
      for (const { name, value } of node.attributes) {
        if (name !== "style" && before.getAttribute(name) !== value) before.setAttribute(name, value);
      }
      // By CSSOM: the policy of the page allows no style attribute.
      if (node.hasAttribute("style")) before.style.cssText = node.style.cssText;
      settle(before, ...node.childNodes);
    }
  });
  for (const rest of old.slice(children.length)) rest.remove();
}
