// Shows a page of its own when no page can be reached: without it a browser would
// show its own, on which nobody finds what is kept. It keeps no page with
// anybody's data, only that neutral one and what pages look with. The server sets
// version and files before this text.
"use strict";

const neutral = "/not-sent";

addEventListener("install", event => {
  event.waitUntil((async () => {
    const cache = await caches.open(version);
    await cache.addAll(files);
    const page = await fetch(neutral + "?neutral=yes", { credentials: "omit", cache: "no-store" });
    if (!page.ok) throw new Error("the neutral page cannot be had");
    await cache.put(neutral, page);
    await skipWaiting();
  })());
});

addEventListener("activate", event => {
  event.waitUntil((async () => {
    for (const name of await caches.keys()) if (name !== version) await caches.delete(name);
    await clients.claim();
  })());
});

addEventListener("fetch", event => {
  const path = new URL(event.request.url).pathname;
  if (event.request.method !== "GET") return;
  if (event.request.mode === "navigate") {
    event.respondWith(fetch(event.request).catch(() => caches.match(neutral)));
  } else if (files.includes(path)) {
    event.respondWith(caches.match(path).then(found => found || fetch(event.request)));
  }
});
