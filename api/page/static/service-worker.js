/**
 * Keeps the page on the telephone, so that it opens without a signal.
 *
 * VERSION and SHELL, the addresses that make up the page, are put before this by the service. Each version has a
 * cache of its own; when a new one is complete, the old one goes. Nothing of the API is kept here.
 */
/* global VERSION, SHELL */
const PREFIX = "fitcheck-";
const CACHE = PREFIX + VERSION;

self.addEventListener("install", (event) => {
  event.waitUntil(
    (async () => {
      const cache = await caches.open(CACHE);
      await cache.addAll(SHELL.map((path) => new Request(path, { cache: path.startsWith("/page/") ? "default" : "reload" })));
      await self.skipWaiting();
    })(),
  );
});

self.addEventListener("activate", (event) => {
  event.waitUntil(
    (async () => {
      const old = (await caches.keys()).filter((name) => name.startsWith(PREFIX) && name !== CACHE);
      await Promise.all(old.map((name) => caches.delete(name)));
      await self.clients.claim();
    })(),
  );
});

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const address = new URL(request.url);
  const here = address.origin === self.location.origin && request.method === "GET";
  if (!here || !(["/", "/practice"].includes(address.pathname) || address.pathname.startsWith("/page/"))) return;
  event.respondWith(
    (async () => {
      const cache = await caches.open(CACHE);
      return (await cache.match(address.pathname)) ?? fetch(request);
    })(),
  );
});
