// A cursor follows the mouse as it moves, and a finger that taps or goes sideways; a swipe that scrolls the page moves
// no cursor.
const SIDEWAYS_PX = 6;

export function followPointer(node, follow) {
  let from = null;
  let sideways = false;
  node.addEventListener("pointerdown", (event) => {
    if (event.pointerType === "mouse") return follow(event);
    [from, sideways] = [event, false];
  });
  node.addEventListener("pointermove", (event) => {
    if (event.pointerType === "mouse") return follow(event);
    if (!from || event.pointerId !== from.pointerId) return;
    const [x, y] = [Math.abs(event.clientX - from.clientX), Math.abs(event.clientY - from.clientY)];
    sideways ||= x > SIDEWAYS_PX && x > y;
    if (sideways) follow(event);
  });
  node.addEventListener("pointerup", (event) => {
    if (from && event.pointerId === from.pointerId) follow(event);
    from = null;
  });
  node.addEventListener("pointercancel", () => (from = null));
}
