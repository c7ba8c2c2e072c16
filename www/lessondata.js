// What lessons are made of: the days (`lessons/days.json`, numbers only) and the words (`lessons/<language>.json`).
// A further language is one file of words with the keys of the English one, and a line in FILES.
const FILES = {
  days: new URL("./lessons/days.json", import.meta.url),
  en: new URL("./lessons/en.json", import.meta.url),
};
const FIRST = "en";

async function fetched(name) {
  const answer = await fetch(FILES[name]);
  if (!answer.ok) throw new Error(`${name}: ${answer.status}`);
  return answer.json();
}

/** `{ words, lessons }`: the page's words, and each lesson's day and text in one object, in order. */
export async function readLessons(language = FIRST) {
  const [{ setup, lessons }, words] = await Promise.all([fetched("days"), fetched(language)]);
  return { words, lessons: lessons.map((lesson) => ({ ...lesson, setup, text: words.lessons[lesson.slug] })) };
}

/** Text with each `{name}` replaced by what `values` has for it; a name that is not there stays. */
export const filled = (text, values) => text.replace(/\{(\w+)\}/g, (whole, name) => values[name] ?? whole);

/** The scenario of a lesson, with changes `[{ path, value }]` made to a copy. */
export function scenarioOf(lesson, changes = []) {
  const { setup, timeline } = structuredClone({ setup: lesson.setup, timeline: lesson.timeline });
  const scenario = { format: 1, name: lesson.text.title, note: "Invented for a lesson; it describes no real car.", setup, timeline };
  for (const { path, value } of changes) {
    const last = path.at(-1);
    path.slice(0, -1).reduce((at, key) => at[key], scenario)[last] = value;
  }
  return scenario;
}
