// Undo and redo: two buttons that stay in sight, the keys, a sentence about what was undone, and a note with
// its own button where a day was replaced or a change taken back.
import { setText } from "./element.js";

const FIELD = "input:not([type]), input[type=text], input[type=search], input[type=number], textarea, [contenteditable]";

export function createUndo({ store }, document) {
  const $ = (id) => document.getElementById(id);
  const button = (id, word) => {
    const node = $(id);
    node.addEventListener("click", () => store[id]());
    return {
      node,
      show(label) {
        // A button that holds the focus keeps it when there is nothing more to do.
        const off = label === null;
        node.disabled = off && document.activeElement !== node;
        node.toggleAttribute("data-off", off);
        node.setAttribute("aria-disabled", String(off));
        node.setAttribute("aria-label", label === null ? word : `${word}: ${label}`);
        node.title = label ?? "";
      },
    };
  };
  const undo = button("undo", "Undo");
  const redo = button("redo", "Redo");
  $("note-undo").addEventListener("click", () => store.undo());
  for (const { node } of [undo, redo]) node.addEventListener("blur", () => show(store.state));

  // In a text box the keys undo the typing, until it is done.
  let typing = null;
  document.addEventListener("input", ({ target }) => {
    if (target.matches(FIELD)) typing = target;
  });
  const done = ({ target }) => {
    if (typing === target) typing = null;
  };
  document.addEventListener("change", done);
  document.addEventListener("focusout", done);
  document.addEventListener("keydown", (event) => {
    if (event.key === "Enter" && typing?.matches("input")) typing = null;
    const key = event.key.toLowerCase();
    if (!(event.ctrlKey || event.metaKey) || event.altKey || event.defaultPrevented) return;
    const act = key === "z" ? (event.shiftKey ? "redo" : "undo") : key === "y" && !event.shiftKey ? "redo" : null;
    if (!act || (typing && typing === document.activeElement)) return;
    event.preventDefault();
    // What is being dragged is let go first, or broken off by Escape.
    if (document.querySelector(".dragging")) return;
    store[act]();
  });

  function show({ history }) {
    undo.show(history.undo);
    redo.show(history.redo);
    $("note").hidden = !history.note;
    setText($("note-text"), history.note ?? "");
    setText($("undone"), history.said ?? "");
  }
  store.subscribe((state, changed) => "history" in changed && show(state));
  show(store.state);
}
