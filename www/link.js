// The day as text for an address, and back: `#s=1.<checksum>.<length>.<payload>`.
//
// 1 is the version of this format. The payload is JSON { scenario, source, units, view } and, with days to compare
// with, { compared: A, beside: [B, C] }, with readings { readings: text } as readingtext packs them, deflated, in base64 for addresses; the checksum is the CRC-32 of the payload's characters (ISO 3309), the length is theirs. Both
// stand first, so that a link that was cut off is told from one that was altered. What comes after the payload,
// such as the full stop of a sentence, is left out.
//
// Here is text only: whether a scenario is one is for the core to say, and where links stand is `share`'s.
import { isLink, MOST_READ } from "./address.js";

export { isLink, MOST_READ };

const VERSION = 1;
/** A longer link is not made: it would not survive the programs that it is sent by. */
export const MOST_CHARACTERS = 1500;
// What a link unpacks to has a bound of its own.
const MOST_BYTES = 300_000;

/** Says in its message why a link cannot be read. */
export class LinkError extends Error {}

/** What a link holds of the days to compare with. Older pages read the first. */
export const packCompared = ([first, ...beside]) => ({
  ...(first === undefined ? {} : { compared: first }),
  ...(beside.length > 0 ? { beside } : {}),
});

/** The days to compare with in what a link holds, unchecked. */
export const comparedIn = ({ compared, beside }) => (compared ? [compared, ...(Array.isArray(beside) ? beside : [])] : []);

/** The link of a state { scenario, source, units, view, compared, beside }, however long. */
export async function linkOf(state) {
  const packed = await through(new CompressionStream("deflate-raw"), new TextEncoder().encode(JSON.stringify(state)), Infinity);
  const payload = base64(packed);
  return `#s=${VERSION}.${crc32(payload)}.${payload.length}.${payload}`;
}

/** What a link holds, unchecked; throws a `LinkError` that says why it cannot be read. */
export async function readLink(hash) {
  if (hash.length > MOST_READ) throw new LinkError(`It is ${hash.length} characters long, more than any link of this page.`);
  const [, version, rest] = hash.match(/^#s(?:=|%3D)(\d{1,9})\.(.*)$/is) ?? [];
  if (version === undefined) throw new LinkError("It is cut off: not even its version is left of it.");
  if (Number(version) > VERSION) {
    throw new LinkError(`It was made by a newer version of this page (link format ${version}; this page reads ${VERSION}). Reload the page to get the newest version.`);
  }
  if (Number(version) < VERSION) throw new LinkError(`It is damaged: there is no link format ${version}.`);
  const [, sum, stated, text] = rest.match(/^([0-9a-f]{8})\.(\d{1,9})\.(.*)$/is) ?? [];
  if (sum === undefined) throw new LinkError("It is cut off: its beginning only has arrived.");
  const length = Number(stated);
  if (text.length < length) throw new LinkError(`It is cut off: ${text.length} of ${length} characters have arrived.`);
  const payload = text.slice(0, length);
  if (crc32(payload) !== sum.toLowerCase()) throw new LinkError("It is damaged: some of its characters were altered on the way.");
  const bytes = unbase64(payload);
  if (!bytes) throw new LinkError("It is damaged: it holds characters that no link has.");
  let json;
  try {
    json = new TextDecoder("utf-8", { fatal: true }).decode(await through(new DecompressionStream("deflate-raw"), bytes, MOST_BYTES));
  } catch (error) {
    throw error instanceof LinkError ? error : new LinkError("It is damaged: it cannot be unpacked.");
  }
  try {
    const state = JSON.parse(json);
    if (state && typeof state === "object") return state;
  } catch {
    // Said below.
  }
  throw new LinkError("It is damaged: what it unpacks to is no day.");
}

/** All bytes that come out of a stream; a few that swell to more than `most` are refused on the way. */
async function through(stream, bytes, most) {
  const writer = stream.writable.getWriter();
  // A failure shows at the reading end.
  writer.write(bytes).catch(() => {});
  writer.close().catch(() => {});
  const reader = stream.readable.getReader();
  const parts = [];
  let size = 0;
  for (;;) {
    const { done, value } = await reader.read();
    if (done) break;
    size += value.length;
    if (size > most) {
      reader.cancel().catch(() => {});
      throw new LinkError(`It unpacks to more than ${most / 1000} kB, which no day does.`);
    }
    parts.push(value);
  }
  const all = new Uint8Array(size);
  let at = 0;
  for (const part of parts) {
    all.set(part, at);
    at += part.length;
  }
  return all;
}

function base64(bytes) {
  let text = "";
  for (const byte of bytes) text += String.fromCharCode(byte);
  return btoa(text).replace(/\+/g, "-").replace(/\//g, "_").replace(/=+$/, "");
}

function unbase64(text) {
  if (!/^[A-Za-z0-9_-]*$/.test(text)) return null;
  try {
    return Uint8Array.from(atob(text.replace(/-/g, "+").replace(/_/g, "/")), (letter) => letter.charCodeAt(0));
  } catch {
    return null;
  }
}

/** CRC-32 with the reversed polynomial EDB88320, eight hexadecimal digits, of text below U+0100. */
function crc32(text) {
  let rest = -1;
  for (let at = 0; at < text.length; at += 1) {
    rest ^= text.charCodeAt(at) & 0xff;
    for (let bit = 0; bit < 8; bit += 1) rest = (rest >>> 1) ^ (rest & 1 ? 0xedb88320 : 0);
  }
  return ((rest ^ -1) >>> 0).toString(16).padStart(8, "0");
}
