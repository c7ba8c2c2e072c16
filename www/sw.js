// Keeps the whole page in the browser, so that it opens without signal. One build, one store: a page is answered from the
// store of the build that its worker came with, never from two.
//
// A new build is fetched whole beside the old one and waits. It takes over when all pages of the old one are closed or
// when the reader says so (`offline` asks); pages that are open then load anew.
//
// Kill switch: `stallheat build --without-offline` puts a worker in this one's place that clears the stores and leaves.
const VERSION = "%version%";
const FILES = ["%files%"];
// Other pages of the same host have stores, too.
const PREFIX = `stallheat ${new URL(registration.scope).pathname} `;
const STORE = PREFIX + VERSION;

self.addEventListener("install", (event) => {
  event.waitUntil((async () => {
    const store = await caches.open(STORE);
    // What keeps its address may lie in the browser's own cache from the build before.
    await store.addAll(FILES.map((name) => new Request(name, { cache: name.startsWith("v-") ? "default" : "reload" })));
    // A host that is being written to may still have the page of another build: better not kept than two halves.
    const page = await store.match(new URL("index.html", registration.scope).href);
    if (!(await page.text()).includes(`v-${VERSION}/`)) {
      await caches.delete(STORE);
      throw new Error("index.html is of another build; upload sw.js last");
    }
  })());
});

self.addEventListener("activate", (event) => {
  event.waitUntil((async () => {
    const old = (await caches.keys()).filter((name) => name.startsWith(PREFIX) && name !== STORE);
    await Promise.all(old.map((name) => caches.delete(name)));
    await self.clients.claim();
  })());
});

self.addEventListener("message", ({ data }) => {
  if (data === "take over") self.skipWaiting();
});

self.addEventListener("fetch", (event) => {
  const { request } = event;
  if (request.method !== "GET" || !request.url.startsWith(registration.scope)) return;
  const name = new URL(request.url).pathname.slice(new URL(registration.scope).pathname.length);
  const wanted = request.mode === "navigate" && name === "" ? "index.html" : name;
  if (!FILES.includes(wanted)) return;
  event.respondWith((async () => {
    const store = await caches.open(STORE);
    return (await store.match(new URL(wanted, registration.scope).href)) ?? fetch(request);
  })());
});
