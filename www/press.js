// Nothing moves away from under a finger or a mouse button that is down: it would let go beside what it pressed, and the
// press would do nothing. Leaving a box stores what was typed in it, so that the press itself can be what makes the page
// say that it cannot be computed.
let isDown = false;
const waiting = [];

function press({ target }) {
  // Who drags looks at what comes of it.
  isDown = !target.matches?.("input[type=range]");
}
function release() {
  if (!isDown) return;
  isDown = false;
  // The click comes first.
  setTimeout(() => {
    for (const act of waiting.splice(0)) act();
  });
}
addEventListener("pointerdown", press, true);
addEventListener("pointerup", release, true);
addEventListener("pointercancel", release, true);
// A press may end where the page does not hear of it.
addEventListener("blur", release);

/** Does something now or, while a press lasts, right after its click. */
export function afterPress(act) {
  if (isDown) waiting.push(act);
  else act();
}
