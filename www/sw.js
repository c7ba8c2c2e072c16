// Keeps the whole page in the browser, so that it opens without signal. One build, one store: a page is answered from the
// store of the build that its worker came with, never from two.
//
// A new build is fetched whole beside the old one and waits. It takes over when all pages of the old one are closed or
// when the reader says so (`offline` asks); pages that are open then load anew.
//
// A page asks whether all of it is kept; what a browser has thrown out of the store is then fetched again.
//
// Kill switch: `stallheat build --without-offline` puts a worker in this one's place that clears the stores and leaves.
const VERSION = "%version%";
const FILES = ["%files%"];
const BASE = new URL(registration.scope).pathname;
// Other pages of the same host have stores, too.
const PREFIX = `stallheat ${BASE} `;
const STORE = PREFIX + VERSION;

const addressOf = (name) => new URL(name, registration.scope).href;

/**
 * One file of this build from the host, as it may be kept.
 *
 * Some hosts send from `lessons.html` on to `lessons`: an answer that was sent on may not stand for a page, a copy of it may.
 */
async function fetched(name) {
  // What keeps its address may lie in the browser's own cache from the build before.
  const answer = await fetch(new Request(name, { cache: name.startsWith("v-") ? "default" : "reload" }));
  if (!answer.ok) throw new Error(`${name}: the host answers ${answer.status}`);
  const isPage = name.endsWith(".html");
  // Some hosts answer with a page where they have no file.
  if (!isPage && answer.headers.get("content-type")?.startsWith("text/html")) throw new Error(`${name}: the host has a page in its place`);
  // A host that is being written to may still have pages of another build: better not kept than two halves.
  if (isPage && !(await answer.clone().text()).includes(`v-${VERSION}/`)) throw new Error(`${name} is of another build; upload sw.js last`);
  if (!answer.redirected) return answer;
  const headers = new Headers(answer.headers);
  // The copy is what was unpacked.
  for (const one of ["content-encoding", "content-length"]) headers.delete(one);
  return new Response(await answer.blob(), { status: answer.status, headers });
}

/** Has the store hold all files: fetches those it lacks, all or none. */
async function fill() {
  const store = await caches.open(STORE);
  const had = new Set((await store.keys()).map(({ url }) => url));
  const lacking = FILES.filter((name) => !had.has(addressOf(name)));
  const answers = await Promise.all(lacking.map(fetched));
  await Promise.all(lacking.map((name, at) => store.put(addressOf(name), answers[at])));
}

self.addEventListener("install", (event) => {
  event.waitUntil(fill().catch(async (error) => {
    await caches.delete(STORE);
    throw error;
  }));
});

self.addEventListener("activate", (event) => {
  event.waitUntil((async () => {
    const old = (await caches.keys()).filter((name) => name.startsWith(PREFIX) && name !== STORE);
    await Promise.all(old.map((name) => caches.delete(name)));
    await self.clients.claim();
  })());
});

self.addEventListener("message", (event) => {
  if (event.data === "take over") self.skipWaiting();
  if (event.data === "all kept?") {
    event.waitUntil(fill().then(() => true, () => false).then((all) => event.ports[0].postMessage(all)));
  }
});

/** The file that a request is for: its name, or of a page its address without `index.html` or `.html`. */
function wantedBy({ method, mode, url }) {
  if (method !== "GET" || !url.startsWith(registration.scope)) return undefined;
  const name = new URL(url).pathname.slice(BASE.length);
  const names = mode === "navigate" ? [name, `${name}index.html`, `${name}.html`] : [name];
  return names.find((one) => FILES.includes(one));
}

self.addEventListener("fetch", (event) => {
  const wanted = wantedBy(event.request);
  if (wanted === undefined) return;
  event.respondWith((async () => {
    const store = await caches.open(STORE);
    return (await store.match(addressOf(wanted))) ?? fetch(event.request);
  })());
});
