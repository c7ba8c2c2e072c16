// A file dragged onto the page, anywhere: a hint while it is over the page, then it is opened as if chosen.
import { element } from "./element.js";

/** `openFiles(files)` opens one, or says that only one can be. */
export function createDrop({ openFiles }, document) {
  const hint = element("div", { class: "drop-hint", id: "drop-hint", hidden: true, "aria-hidden": "true" },
    element("p", { text: "Let go to open the file" }));
  document.body.append(hint);
  const holdsFiles = (event) => [...(event.dataTransfer?.types ?? [])].includes("Files");
  const show = (shown) => (hint.hidden = !shown);

  for (const type of ["dragenter", "dragover"]) {
    document.addEventListener(type, (event) => {
      if (!holdsFiles(event)) return;
      event.preventDefault();
      event.dataTransfer.dropEffect = "copy";
      show(true);
    });
  }
  // Left for good where nothing of the page is under the pointer any more.
  document.addEventListener("dragleave", (event) => event.relatedTarget || show(false));
  document.addEventListener("dragend", () => show(false));
  document.addEventListener("drop", (event) => {
    if (!holdsFiles(event)) return;
    event.preventDefault();
    show(false);
    openFiles(event.dataTransfer.files);
  });
  // Dropped before this was there (see `first.js`); opened once what is made together with this is known.
  setTimeout(openFiles, 0, document.documentElement.dropped ?? []);
  delete document.documentElement.dropped;
}
