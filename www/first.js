// Before anything is seen: whether this visit is about another day than the one whose answer stands in the page, a day of
// a link or one that this browser kept (see `address.js` and `storage.js`). The answer is then not shown meanwhile. And what
// only a script beside the page's own can do: say that those did not arrive, and keep a file that is dropped early, which would
// take the page's place, until it can be opened.
//
// A script of its own, asked for beside the style sheet: rendering waits for it, reading the page does not.
{
  const root = document.documentElement;
  const look = () => {
    let other = /^#s(=|%3D)/i.test(location.hash);
    try {
      other ||= localStorage.getItem("stallheat.work.1") !== null;
    } catch {
      // Blocked: nothing was kept.
    }
    root.classList.toggle("other", other);
  };
  look();
  addEventListener("hashchange", look);
  // By then the page's own script has begun, where it came; in one file it begins later, and cannot be missing.
  addEventListener("load", () => root.classList.toggle("missing", !("begun" in root.dataset || "single" in root.dataset)));
  // See `scrollplace.js`.
  history.scrollRestoration = "manual";
  for (const type of ["dragover", "drop"]) {
    addEventListener(type, (event) => {
      if (!event.dataTransfer?.types.includes("Files")) return;
      event.preventDefault();
      if (type === "drop") root.dropped = [...event.dataTransfer.files]; // for `drop.js`
    });
  }
}
