// In the place of the worker that keeps the page: clears what it kept, loads the pages that it answered anew, leaves.
const PREFIX = `stallheat ${new URL(registration.scope).pathname} `;

self.addEventListener("install", () => self.skipWaiting());

self.addEventListener("activate", (event) => {
  event.waitUntil((async () => {
    const kept = (await caches.keys()).filter((name) => name.startsWith(PREFIX));
    await Promise.all(kept.map((name) => caches.delete(name)));
    await registration.unregister();
    if (kept.length === 0) return;
    const pages = await self.clients.matchAll({ type: "window" });
    await Promise.all(pages.map((page) => page.navigate(page.url).catch(() => null)));
  })());
});

self.addEventListener("message", ({ data, ports }) => {
  if (data === "all kept?") ports[0].postMessage("off");
});
