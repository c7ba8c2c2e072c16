// The door of messages to a view with anything behind it, as far as a message can carry it: what a window can post is what
// structured cloning can copy. What comes out is nothing, a request of the form that the view obeys, or a named `Refusal`.
import assert from "node:assert/strict";
import { Refusal, requestOf } from "../../../www/embedtalk.js";
import { altered, anyJson, randomOf } from "./random.mjs";

const GOOD = [
  { stallheat: 1, id: 1, type: "set", parameters: { "cooler.ua": "110 W/K", "car.final_drive": 4.1, "air.wind": null } },
  { stallheat: 1, id: "a", type: "set", units: "si" },
  { stallheat: 1, id: 2, type: "set", scenario: { format: 1, name: "x", timeline: [{ event: "idle", duration: "5 min" }] } },
  { stallheat: 1, id: 3, type: "reset" },
  { stallheat: 1, id: 4, type: "height", height_px: 300 },
];
const FIELDS = ["field", "value", "limit", "remedy"];
const MOST_SAID = 300;

/** Values that JSON has not, but a message may carry. */
function anyCloned(random) {
  const cyclic = { a: 1 };
  cyclic.itself = cyclic;
  let deep = [];
  for (let depth = 0; depth < 200; depth += 1) deep = random.chance(0.5) ? [deep] : { deep };
  return random.pick([
    undefined, NaN, Infinity, 10n, 10n ** 400n, new Date(0), new Date(NaN), /x/g, new Map([["a", 1]]), new Set([1]), new Error("x"), new Uint8Array(9), new ArrayBuffer(8),
    cyclic, deep, new Array(5), Array.from({ length: 500 }, () => "long ".repeat(10)), "x".repeat(100_000), Object("boxed"), Object(1n),
  ]);
}

/** Values that broke something once, or are made to: each is posted as itself, and in every place of a message. */
export function strange() {
  const random = randomOf(1);
  const all = Array.from({ length: 400 }, () => anyCloned(random));
  // One of each.
  return [...new Map(all.map((value) => [`${Object.prototype.toString.call(value)} ${typeof value === "string" || typeof value === "number" ? String(value).slice(0, 9) : ""}`, value])).values()];
}

/** Good messages with one value in the place of each of their own. */
export const withStrange = (value) =>
  GOOD.flatMap((message) => ["stallheat", "id", "type", "parameters", "scenario", "units", "more"].map((key) => ({ ...message, [key]: value })));

/** A maker of hostile messages from a seed. */
export function hostileMessages(seed) {
  const random = randomOf(seed);
  const any = (source) => (source.chance(0.3) ? anyCloned(source) : anyJson(source));
  return () => {
    if (random.chance(0.1)) return any(random);
    let message = random.pick(GOOD);
    for (let turns = 1 + random.below(3); turns > 0; turns -= 1) {
      message = altered(random, message, any);
      if (message === null || typeof message !== "object") break;
    }
    return message;
  };
}

/** Tries one message. Gives "ignored", "refused" or "understood"; throws where anything else comes of it. */
export function tryMessage(message) {
  let request;
  try {
    request = requestOf(structuredClone(message));
  } catch (error) {
    assert.ok(error instanceof Refusal, `${error?.stack ?? error}`);
    for (const field of FIELDS) assert.equal(typeof error[field], "string", `${field} of ${error.message.slice(0, 300)}`);
    assert.ok(error.field && error.limit && error.remedy, error.message);
    assert.ok(error.message.length <= MOST_SAID, `${error.message.length} characters of refusal`);
    return "refused";
  }
  if (request === null) return "ignored";
  assert.deepEqual(Object.keys(request), ["type", "id", "parameters", "scenario", "units"]);
  assert.ok(["set", "reset"].includes(request.type));
  // What the view does with it next: it is copied, made text, and told of.
  assert.ok(JSON.stringify(request).length < 3_100_000);
  return "understood";
}
