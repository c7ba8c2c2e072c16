// Files that the page writes.
import { element } from "./element.js";

export const jsonOf = (scenario) => `${JSON.stringify(scenario, null, 2)}\n`;

/** Has the browser save a text or a blob under the name of a day. */
export function download({ name }, extension, type, content) {
  const stem = String(name ?? "day").toLowerCase().replace(/[^a-z0-9]+/g, "-").replace(/^-|-$/g, "") || "day";
  const address = URL.createObjectURL(new Blob([content], { type }));
  element("a", { href: address, download: `${stem}.${extension}` }).click();
  setTimeout(() => URL.revokeObjectURL(address), 10_000);
}
