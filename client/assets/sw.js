// Keeps the app's own files, so that it starts without signal. The server's answers are never kept.
const VERSION = "baybook-{{version}}";
const FILES = ["/", {{files}}];

self.addEventListener("install", (event) => {
  event.waitUntil(caches.open(VERSION).then((cache) => cache.addAll(FILES)).then(() => self.skipWaiting()));
});

self.addEventListener("activate", (event) => {
  event.waitUntil(
    caches
      .keys()
      .then((names) => Promise.all(names.filter((name) => name !== VERSION).map((name) => caches.delete(name))))
      .then(() => self.clients.claim()),
  );
});

self.addEventListener("fetch", (event) => {
  const url = new URL(event.request.url);
  const ours = url.origin === location.origin && !url.pathname.startsWith("/api/") && url.pathname !== "/sync";
  if (event.request.method !== "GET" || !ours) {
    return;
  }
  if (event.request.mode === "navigate") {
    // The newest page when there is signal, the kept one when there is none.
    event.respondWith(fetch(event.request).catch(() => caches.match("/")));
    return;
  }
  event.respondWith(kept(event));
});

// What the list above leaves out (the office's app) is kept when it was first used.
async function kept(event) {
  const known = await caches.match(event.request);
  if (known) {
    return known;
  }
  const answer = await fetch(event.request);
  if (answer.ok && new URL(event.request.url).pathname.startsWith("/office-")) {
    const copy = answer.clone();
    // Where there is no room the page is there all the same.
    event.waitUntil(caches.open(VERSION).then((cache) => cache.put(event.request, copy)).catch(() => {}));
  }
  return answer;
}
