// The door of links with anything behind it: real links altered as texts, their bytes altered, their days altered and
// packed again with the right checksum, and bombs. What comes out must be an object, or a `LinkError` that can be read.
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { deflateRawSync } from "node:zlib";
import { comparedIn, isLink, LinkError, linkOf, packCompared, readLink } from "../../../www/link.js";
import { NO_READINGS } from "../../../www/readingrows.js";
import { packReadings, unpackReadings } from "../../../www/readingtext.js";
import { isDrawable } from "../../../www/scenario.js";
import { root } from "../harness.mjs";
import { altered, alteredText, anyJson, randomOf } from "./random.mjs";

const KINDS = ["idle", "burnout", "stage", "brake_hold", "pass", "slow_down", "return_road", "tow", "engine_off", "dyno_pull"];
const ROWS = [{ time: "12:30", place: "pan", shown: "185 °F", surface: "contact" }, { time: "14:00", place: "converter_fluid", shown: "240 °F", note: "guess" }];
/** No link may say more than this of what is wrong with it. */
const MOST_SAID = 400;
/** The bound of what is unpacked, and room for what it becomes. */
const MOST_LETTERS = 1_000_000;

// CRC-32 by a table of 256 (ISO 3309), where the page goes bit by bit.
const TABLE = Uint32Array.from({ length: 256 }, (_, byte) => {
  let rest = byte;
  for (let bit = 0; bit < 8; bit += 1) rest = rest & 1 ? (rest >>> 1) ^ 0xedb88320 : rest >>> 1;
  return rest;
});
function crc32(text) {
  let rest = 0xffffffff;
  for (const byte of Buffer.from(text, "latin1")) rest = (rest >>> 8) ^ TABLE[(rest ^ byte) & 0xff];
  return (rest ^ 0xffffffff) >>> 0;
}

const sealed = (payload) => `#s=1.${crc32(payload).toString(16).padStart(8, "0")}.${payload.length}.${payload}`;
/** A link whose form is right, of any bytes. */
export const linkOfBytes = (bytes) => sealed(Buffer.from(bytes).toString("base64url"));
/** A link whose form is right, of any text. */
export const linkOfText = (text) => linkOfBytes(deflateRawSync(text, { level: 1 }));

/** States as the page packs them. */
export function states() {
  const folder = join(root, "scenarios");
  const days = ["saturday_bracket_day.json", "test_and_tune_evening.json"].map((name) => JSON.parse(readFileSync(join(folder, name), "utf8")));
  return days.map((scenario, at) => ({
    scenario, source: ["saturday", "no such example"][at], units: "us", view: { hidden: ["engine"], range: { round: 1 }, axis: "room", launch: 0, cursor_s: 12.5 },
    readings: packReadings({ ...NO_READINGS, rows: ROWS }), ...packCompared([scenario]),
  }));
}

/** Links that unpack to much, are deep, or are long. */
export const bombs = () => [
  linkOfBytes(deflateRawSync(Buffer.alloc(120_000_000), { level: 9 })),
  linkOfText(`{"scenario":"${" ".repeat(50_000_000)}"}`),
  linkOfText(`${"[".repeat(140_000)}${"]".repeat(140_000)}`),
  linkOfText(`{"scenario":${'{"a":'.repeat(45_000)}1${"}".repeat(45_000)}}`),
  linkOfText(`{"readings":"0\\n${"\\n".repeat(140_000)}"}`),
  linkOfText(`{"readings":"0\\n\\t\\n${"a\\t0\\tb\\t[[1]]\\n".repeat(15_000)}"}`),
  linkOfText(`{"scenario":{"timeline":[${"{},".repeat(70_000)}{}]}}`),
  `#s=${"9".repeat(199_000)}.x`,
  `#s=1.00000000.${"9".repeat(199_000)}.x`,
  `#s=1.00000000.1e5.${"A".repeat(150_000)}`,
  `#s=1.${"a".repeat(199_000)}`,
  `#s=1.00000000.190000.${"\ud800".repeat(190_000)}`,
  `#s=1.${"0".repeat(8)}.5.${"A".repeat(2_000_000)}`,
];

/** Links with a day that opens, and beside it what the page does not expect there. */
export function companions() {
  const [{ scenario }] = states();
  const few = { ...scenario, timeline: scenario.timeline.slice(0, 2) };
  const deep = (levels) => `${"[".repeat(levels)}${"]".repeat(levels)}`;
  const beside = [
    ...["compared", "beside", "view", "source", "units", "readings"].flatMap((key) => ['""', "5", "true", "[]", "{}", "[null]", "[[]]", '{"length":9}', deep(100_000), `"${"x".repeat(200_000)}"`].map((value) => `"${key}":${value}`)),
    `"compared":{"timeline":[]}`, `"compared":{"name":5,"timeline":[{"event":"idle"}]}`, `"compared":${JSON.stringify(few)},"beside":[5,null,{}]`,
    `"compared":${JSON.stringify(few)},"beside":${JSON.stringify(Array(40).fill({ format: 1, name: "x", timeline: [] }))}`,
    `"view":{"hidden":${deep(1_000)},"range":{"start_s":1e308,"end_s":-1e308},"axis":[],"launch":1e9,"cursor_s":1e300}`,
    `"view":{"hidden":["engine","engine"],"range":{"round":9007199254740991,"stage":"hold"},"launch":77,"cursor_s":5e-324}`,
    `"readings":"-1 s\\n\\t\\n\\u0000\\t000\\tNaN"`,
  ];
  return [...beside.map((more) => linkOfText(`{"scenario":${JSON.stringify(few)},${more}}`)), linkOfText(`{"scenario":${deep(140_000)}}`), linkOfText(`{"scenario":{"timeline":${deep(140_000)}}}`)];
}

/** A maker of hostile links from a seed. */
export async function hostileLinks(seed) {
  const random = randomOf(seed);
  const made = states();
  const links = await Promise.all(made.map(linkOf));
  const texts = made.map((state) => JSON.stringify(state));
  const packed = texts.map((text) => deflateRawSync(text));
  const few = made.map(({ scenario, ...rest }) => ({ scenario: { ...scenario, timeline: scenario.timeline.slice(0, 3) }, ...rest }));
  return () => {
    switch (random.below(8)) {
      case 0: return alteredText(random, random.pick(links));
      case 1: {
        const bytes = Uint8Array.from(random.pick(packed));
        for (let turns = 1 + random.below(6); turns > 0; turns -= 1) bytes[random.below(bytes.length)] = random.below(256);
        return linkOfBytes(bytes.subarray(0, random.chance(0.2) ? random.below(bytes.length) : bytes.length));
      }
      case 2: return linkOfText(alteredText(random, random.pick(texts)));
      case 3: return linkOfText(JSON.stringify(anyJson(random)) ?? "");
      case 4: return linkOfBytes(Uint8Array.from({ length: random.below(60) }, () => random.below(256)));
      case 5: return `#s${random.pick(["=", "%3D", "%3d", "S="])}${random.below(4)}.${alteredText(random, "0a1b2c3d.12.abcdefghijkl")}`;
      default: {
        let state = random.pick(few);
        for (let turns = 1 + random.below(4); turns > 0; turns -= 1) state = altered(random, state);
        return linkOfText(JSON.stringify(state) ?? "");
      }
    }
  };
}

/**
 * Tries one address. Gives "refused" or "read"; throws where an exception comes out of the door, a refusal cannot be read, or what
 * the page does next with what was read breaks. `tried(text)` gets the scenario of those that can be drawn, as the core would.
 */
export async function tryLink(hash, tried = () => {}) {
  assert.equal(typeof isLink(hash), "boolean");
  let state;
  try {
    state = await readLink(hash);
  } catch (error) {
    assert.ok(error instanceof LinkError, `${error?.stack ?? error}`);
    assert.match(error.message, /^It .*[.]$/s);
    assert.ok(error.message.length <= MOST_SAID, `${error.message.length} characters of refusal`);
    return "refused";
  }
  assert.equal(typeof state, "object");
  assert.ok(Array.isArray(comparedIn(state)));
  const readings = unpackReadings(state.readings);
  assert.ok(readings.rows.length <= 500 && JSON.stringify(readings).length < MOST_LETTERS);
  if (isDrawable(state.scenario, KINDS)) tried(JSON.stringify(state.scenario));
  return "read";
}
