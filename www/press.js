// Nothing moves away from under a finger or a mouse button that is down: it would let go beside what it pressed, and the
// press would do nothing. Leaving a box stores what was typed in it, so that the press itself can be what makes the page
// say that it cannot be computed.
let isDown = false;
let waiting = [];

function press({ target, button }) {
  release();
  // Who drags a slider looks at what comes of it; another button than the first may open a menu, and its end is not heard.
  isDown = button === 0 && !target.matches?.("input[type=range]");
}
function release() {
  isDown = false;
  if (waiting.length === 0) return;
  const acts = waiting;
  waiting = [];
  // The click comes first.
  setTimeout(() => {
    for (const act of acts) act();
  });
}
addEventListener("pointerdown", press, true);
// A press may end where the page does not hear of it; then by the next thing that tells of no press.
for (const end of ["pointerup", "pointercancel", "contextmenu", "dragend", "keydown"]) addEventListener(end, release, true);
addEventListener("blur", release); // of the window, not of what is in it
addEventListener("pointermove", ({ buttons }) => buttons === 0 && release(), true);

/** Does something now or, while a press lasts, right after its click. */
export function afterPress(act) {
  if (isDown) waiting.push(act);
  else act();
}
