// The style sheets that the first view does without.
import { another } from "./brought.js";
import { element } from "./element.js";

const ADDRESSES = [
  new URL("./late.css", import.meta.url),
  new URL("./whatif.css", import.meta.url),
  new URL("./readings.css", import.meta.url),
];

/** Puts them on, in their order; kept when all are there, broken where one cannot be loaded, not even the second time. */
export function putOnLateStyles(document) {
  const sheet = ({ href }) => new Promise((done, failed) => {
    const node = element("link", { rel: "stylesheet", href, on: { load: done, error: again } });
    document.head.append(node);
    function again() {
      if (node.href !== href) failed(new Error(`${href} could not be loaded`));
      else node.href = href + another(1);
    }
  });
  return Promise.all(ADDRESSES.map(sheet));
}
