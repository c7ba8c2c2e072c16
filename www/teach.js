// The teacher's page, made of the same files as the lessons.
import { element } from "./element.js";
import { readLessons } from "./lessondata.js";

const { words: { page }, lessons } = await readLessons();
document.getElementById("teach").replaceChildren(...lessons.map(({ slug, minutes, text }) => element("section", { class: "aim" },
  element("h2", { text: `${text.title} (${page.minutes.replace("{minutes}", minutes)})` }),
  element("dl", {}, ...[[page.aim, text.aim], [page.say, text.say], [page.wrong, text.wrong], [page.model, text.model]]
    .flatMap(([name, said]) => [element("dt", { text: name }), element("dd", { text: said })])),
  element("h3", { text: page.questions }),
  ...text.discuss.map(({ q, a }) => element("p", {}, element("strong", { text: q }), ` ${a}`)),
  element("p", {}, element("a", { class: "lesson-step", href: `lessons.html#${slug}`, text: `${page.open_lesson}: ${text.title}` })))));
