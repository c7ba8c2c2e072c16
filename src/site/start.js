// Starts the page from what one file holds: `data` has every script and every other file by name, `names` what to run.
//
// A file opened from a disk cannot import its neighbours, and its workers cannot import what the page made. So every
// script becomes a blob of its own that imports blobs, and a worker gets this function with its part of the data and makes
// blobs of its own. It runs as a classic script: browsers refuse module workers to files.
(async function start(data, names) {
  // What is said to a worker before its script has come is said again then.
  const early = [];
  const keep = ({ data: said }) => early.push(said);
  if (typeof document === "undefined") addEventListener("message", keep);

  const made = new Map();
  const blob = (parts, type) => URL.createObjectURL(new Blob(parts, { type }));
  const unpacked = async (text) => {
    const packed = Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));
    return new Response(new Blob([packed]).stream().pipeThrough(new DecompressionStream("gzip"))).arrayBuffer();
  };
  const once = (key, make) => {
    if (!made.has(key)) made.set(key, make());
    return made.get(key);
  };
  const address = (name) => once(name, () => {
    const { type, parts } = data[name];
    return blob(parts.map((part) => (typeof part === "string" ? part : part.worker ? worker(part.worker) : address(part.file))), type);
  });
  const needs = (name, found = {}) => {
    if (name in found) return found;
    found[name] = data[name];
    for (const part of data[name].parts ?? []) if (typeof part !== "string") needs(part.worker ?? part.file, found);
    return found;
  };
  const worker = (name) => once(`worker ${name}`, () => blob([`(${start})(${JSON.stringify(needs(name))}, ${JSON.stringify([name])})`], "text/javascript"));

  try {
    for (const [name, { type, gzip }] of Object.entries(data)) {
      if (!gzip) continue;
      const bytes = await unpacked(gzip);
      once(name, () => blob([bytes], type));
    }
    await Promise.all(names.map((name) => import(address(name))));
  } catch (error) {
    // Thrown outside the promise, so that whoever started the worker hears of it.
    setTimeout(() => { throw error; });
  }
  removeEventListener("message", keep);
  for (const said of early) dispatchEvent(new MessageEvent("message", { data: said }));
})
