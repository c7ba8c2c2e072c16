// Text onto the clipboard, where the browser allows it.

/** Whether the text is on the clipboard now. */
export async function copy(text) {
  try {
    await navigator.clipboard.writeText(text);
    return true;
  } catch {
    return false;
  }
}
