// Before anything is seen: whether this visit is about another day than the one whose answer stands in the page, a day of
// a link or one that this browser kept (see `address.js` and `storage.js`). The answer is then not shown meanwhile.
//
// A script of its own, asked for beside the style sheet: rendering waits for it, reading the page does not.
{
  let other = /^#s(=|%3D)/i.test(location.hash);
  try {
    other ||= localStorage.getItem("stallheat.work.1") !== null;
  } catch {
    // Blocked: nothing was kept.
  }
  document.documentElement.classList.toggle("other", other);
}
