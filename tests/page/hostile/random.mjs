// Random numbers from a seed and what is made of them, for tests that throw anything at a door: the same on every machine.

/** A generator (mulberry32, Ettinger 2017, public domain; passes as random for picking test cases). */
export function randomOf(seed) {
  let state = seed >>> 0;
  const share = () => {
    state = (state + 0x6d2b79f5) >>> 0;
    let mixed = Math.imul(state ^ (state >>> 15), state | 1);
    mixed ^= mixed + Math.imul(mixed ^ (mixed >>> 7), mixed | 61);
    return ((mixed ^ (mixed >>> 14)) >>> 0) / 4294967296;
  };
  const below = (count) => Math.floor(share() * count);
  return { share, below, pick: (list) => list[below(list.length)], chance: (part) => share() < part };
}

/** Texts that have broken readers of text before, of no length worth speaking of. */
const WORDS = [
  "", " ", "0", "-1", "1e999", "-0", "NaN", "Infinity", "null", "undefined", "true", "__proto__", "constructor", "toString", "length", "hasOwnProperty",
  "\u0000", "\ud800", "\u202e", "\ufeff", "é̂̂̂̂", "🏁", "<img src=x onerror=alert(1)>", "%00", "%", "%s%n", "'; --", "${x}", "1 °F", "1e300 W/K", "-400 °F", "12:99:99",
  "9".repeat(40), "a".repeat(400), "(((((((((((((((", "\n\r\t",
];
const NUMBERS = [0, -0, 1, -1, 0.5, 1e-320, 1e21, 1e308, -1e308, 2 ** 31, 2 ** 53, 2 ** 53 + 2];

/** Any value that JSON has, small. */
export function anyJson(random, depth = 0) {
  const kind = random.below(depth > 4 ? 4 : 7);
  if (kind === 0) return random.pick([null, true, false]);
  if (kind === 1) return random.pick(NUMBERS);
  if (kind < 4) return random.pick(WORDS);
  if (kind < 6) return Array.from({ length: random.below(4) }, () => anyJson(random, depth + 1));
  return Object.fromEntries(Array.from({ length: random.below(4) }, () => [random.pick(WORDS), anyJson(random, depth + 1)]));
}

/** A copy of data with one of the values of its lists and objects replaced, doubled, taken out, moved or renamed. `any` makes values. */
export function altered(random, data, any = anyJson) {
  const copy = structuredClone(data);
  const holders = [];
  const seen = new Set();
  const walk = (value) => {
    if (value === null || typeof value !== "object" || seen.has(value) || !(Array.isArray(value) || Object.getPrototypeOf(value) === Object.prototype)) return;
    seen.add(value);
    if (Object.keys(value).length > 0) holders.push(value);
    for (const one of Object.values(value)) walk(one);
  };
  walk(copy);
  if (holders.length === 0) return any(random);
  const holder = random.pick(holders);
  const key = random.pick(Object.keys(holder));
  const put = (at, value) => Object.defineProperty(holder, at, { value, writable: true, enumerable: true, configurable: true });
  switch (random.below(6)) {
    case 0:
    case 1: put(key, any(random)); break;
    case 2: if (Array.isArray(holder)) holder.splice(Number(key), 1); else delete holder[key]; break;
    case 3: if (!Array.isArray(holder)) put(random.pick(WORDS), holder[key]); break;
    case 4: put(key, structuredClone(random.pick(holders))); break;
    default: put(key, Array.from({ length: 1 + random.below(30) }, () => holder[key]));
  }
  return copy;
}

/** A text with some characters flipped, cut out, doubled, put in or moved. */
export function alteredText(random, text) {
  let now = text;
  for (let turns = 1 + random.below(4); turns > 0; turns -= 1) {
    const at = random.below(now.length + 1);
    const to = Math.min(now.length, at + 1 + random.below(random.chance(0.2) ? now.length + 1 : 6));
    switch (random.below(6)) {
      case 0: now = now.slice(0, at) + now.slice(to); break;
      case 1: now = now.slice(0, at); break;
      case 2: now = now.slice(0, at) + random.pick(WORDS) + now.slice(at); break;
      case 3: now = now.slice(0, to) + now.slice(at); break;
      case 4: now = now.slice(0, at) + String.fromCharCode(random.below(random.chance(0.8) ? 128 : 65536)) + now.slice(at + 1); break;
      default: now = now.slice(at) + now.slice(0, at);
    }
    if (now.length > 4_000) now = now.slice(0, 4_000);
  }
  return now;
}
