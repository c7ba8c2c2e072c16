// What the view and the page around it say to each other by postMessage, version 1. docs/embedding.md has the tables.
//
// Every message is { stallheat: 1, id, type, … }. The view obeys the window around it, and that only from the origin
// which its address names (`origin=`); where none is named it listens to nobody and tells only that it is ready and how
// tall it is. A message about something else is left alone, a wrong one is answered by an error. What the view sends
// itself is never taken for a request, so that an echo ends here.
const VERSION = 1;
const MOST_BYTES = 3_000_000;
const MOST_ID = 64;
const MOST_DEPTH = 64;
const OWN = ["ready", "height", "state", "result", "error"];
const KEYS = { set: ["parameters", "scenario", "units"], reset: [] };
// What may be told to any page: nothing of the day.
const OPEN = ["ready", "height"];

/** An error with the four fields that a page shows or logs. */
export class Refusal extends Error {
  constructor(field, value, limit, remedy) {
    super(`${field}: ${value} — ${limit}. ${remedy}`);
    Object.assign(this, { field, value, limit, remedy });
  }
}

const isId = (id) => (typeof id === "string" && id.length > 0 && id.length <= MOST_ID) || Number.isSafeInteger(id);
const isPlain = (value) => value !== null && typeof value === "object" && !Array.isArray(value);
const shortened = (value) => {
  const text = typeof value === "string" ? value : value === undefined ? "nothing" : jsonOf(value);
  return text.length > 80 ? `${text.slice(0, 79)}…` : text;
};
function jsonOf(value) {
  try {
    return JSON.stringify(value) ?? typeof value;
  } catch {
    // What turns on itself, or no JSON has.
    return typeof value;
  }
}

/** How large a message is, about as many bytes as it has as JSON; counts no further than the bound. Throws where it is no plain data. */
function sizeOf(data) {
  let left = MOST_BYTES;
  const seen = new Set();
  const count = (value, depth) => {
    if (left < 0) return;
    if (typeof value === "string") left -= value.length + 2;
    else if (value === null || typeof value === "boolean" || (typeof value === "number" && Number.isFinite(value))) left -= 8;
    else if (typeof value === "object" && depth < MOST_DEPTH && !seen.has(value) && (Array.isArray(value) || Object.getPrototypeOf(value) === Object.prototype)) {
      seen.add(value);
      for (const [key, one] of Object.entries(value)) {
        left -= key.length + 4;
        count(one, depth + 1);
        if (left < 0) return;
      }
      seen.delete(value);
    } else throw new Refusal("message", typeof value, "must be plain data: texts, finite numbers, lists and objects", "Send what JSON can hold.");
  };
  count(data, 0);
  return MOST_BYTES - left;
}

/** A request { type, id, parameters, scenario, units } of a message's data; null where it is none of ours; throws a `Refusal`. */
export function requestOf(data) {
  if (!isPlain(data) || !("stallheat" in data) || OWN.includes(data.type)) return null;
  if (data.stallheat !== VERSION) {
    throw new Refusal("stallheat", shortened(data.stallheat), `this view speaks version ${VERSION}`, `Send stallheat: ${VERSION}.`);
  }
  const { type, id } = data;
  if (!isId(id)) {
    throw new Refusal("id", typeof id === "string" ? shortened(id) : typeof id, `must be a text of 1 to ${MOST_ID} characters or a whole number`, "Number your messages.");
  }
  if (typeof type !== "string" || !Object.hasOwn(KEYS, type)) {
    throw new Refusal("type", typeof type === "string" ? shortened(type) : typeof type, `must be one of ${Object.keys(KEYS).join(", ")}`, "Correct the type.");
  }
  if (sizeOf(data) > MOST_BYTES) {
    throw new Refusal("message", "too large", `${MOST_BYTES / 1e6} MB at most`, "Send a smaller scenario.");
  }
  for (const key of Object.keys(data)) {
    if (!["stallheat", "id", "type", ...KEYS[type]].includes(key)) {
      throw new Refusal(key.slice(0, MOST_ID) || "a key without a name", shortened(data[key]), `${type} has only ${["stallheat", "id", "type", ...KEYS[type]].join(", ")}`, "Leave it out.");
    }
  }
  const { parameters, scenario, units } = data;
  if (type === "set" && parameters === undefined && scenario === undefined && units === undefined) {
    throw new Refusal("set", "nothing", "must have parameters, scenario or units", "State what is to be set.");
  }
  if (parameters !== undefined && !isPlain(parameters)) throw new Refusal("parameters", shortened(parameters), "must be an object from path to text", 'Send { "cooler.ua": "110 W/K" }.');
  for (const [path, value] of Object.entries(parameters ?? {})) {
    const fits = value === null || Number.isFinite(value) || (typeof value === "string" && value.length <= 200);
    if (!fits) throw new Refusal(`parameters.${path.slice(0, MOST_ID)}`, shortened(value), "must be a text with its unit, a number where it has none, or null for the default", 'Send a text such as "95 °F".');
  }
  if (scenario !== undefined && !isPlain(scenario)) throw new Refusal("scenario", shortened(scenario), "must be an object as in a scenario file", "Send the file's content as JSON.");
  if (units !== undefined && !["us", "si"].includes(units)) throw new Refusal("units", shortened(units), "must be us or si", "Send us or si.");
  return { type, id, parameters, scenario, units };
}

/**
 * `origin` is who may send and is told of the day, or null; `obey(request)` gets each request that can be understood.
 *
 * Gives { tell(type, content), refuse(error, ids of the requests that it answers), trusted }; without a page around it both do nothing.
 */
export function createTalk({ origin, obey }) {
  const around = window.parent === window ? null : window.parent;
  let count = 0;

  function tell(type, content = {}) {
    if (!around || (!origin && !OPEN.includes(type))) return;
    count += 1;
    around.postMessage({ stallheat: VERSION, id: count, type, ...content }, origin ?? "*");
  }
  function refuse({ field = null, value = null, limit = null, remedy = null, message }, ids = []) {
    tell("error", { reply_to: ids, field, value, limit, remedy, message: String(message ?? `${field}: ${value} — ${limit}. ${remedy}`) });
  }

  if (around && origin) {
    addEventListener("message", (event) => {
      if (event.source !== around || event.origin !== origin) return;
      try {
        const request = requestOf(event.data);
        if (request) obey(request);
      } catch (error) {
        if (!(error instanceof Refusal)) throw error;
        const { id } = event.data;
        refuse(error, isId(id) ? [id] : []);
      }
    });
  }
  return { tell, refuse, trusted: Boolean(around && origin) };
}

/** Tells how tall the content is whenever that changes, once a frame at most; what it gives tells at once, where no frame is painted. */
export function followHeight(content, talk) {
  let told = 0;
  let waiting = false;
  const look = () => {
    waiting = false;
    const height_px = Math.ceil(content.getBoundingClientRect().height);
    if (height_px === told || height_px === 0) return;
    told = height_px;
    talk.tell("height", { height_px });
  };
  new ResizeObserver(() => {
    if (waiting) return;
    waiting = true;
    requestAnimationFrame(look);
  }).observe(content);
  return look;
}
