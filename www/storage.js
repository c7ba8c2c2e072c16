// Keeps the work of this browser over a reload. Storage may be blocked or full: then nothing is kept and
// nothing breaks.
const KEY = "stallheat.work.1";

/** The kept work { scenario, baseline, source, units }, or null. */
export function restore() {
  try {
    const kept = JSON.parse(localStorage.getItem(KEY));
    return kept && typeof kept === "object" ? kept : null;
  } catch {
    return null;
  }
}

export function keep({ scenario, baseline, source, units }) {
  try {
    localStorage.setItem(KEY, JSON.stringify({ scenario, baseline, source, units }));
  } catch {
    // Blocked or full: the page works on.
  }
}

/** Calls when another tab of this browser has kept its work, which replaces what this one kept. */
export function onKeptElsewhere(listener) {
  addEventListener("storage", ({ key, newValue }) => key === KEY && newValue !== null && listener());
}

export function forget() {
  try {
    localStorage.removeItem(KEY);
  } catch {
    // Blocked: there was nothing.
  }
}
