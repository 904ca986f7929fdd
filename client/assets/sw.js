// Keeps the app's own files, so that it starts without signal. The server's answers are never kept.
//
// Page and files of one start come from one version. A newer version is fetched beside the one in use
// and waits until a person asks for it; the files of the one in use stay until then.
const VERSION = "baybook-{{version}}";
const FILES = ["/", {{files}}];

const OFFICE = ["/{{office_js}}", "/{{office_wasm}}"];

self.addEventListener("install", (event) => event.waitUntil(install()));

async function install() {
  const isOffice = (file) => new URL(file.url).pathname.startsWith("/office-");
  const names = await caches.keys();
  const lists = await Promise.all(names.map(async (name) => (await caches.open(name)).keys()));
  const cache = await caches.open(VERSION);
  await cache.addAll(FILES);
  // Where the other app is kept, its next version is too: what could be opened without signal still can.
  if (lists.flat().some(isOffice)) {
    await cache.addAll(OFFICE).catch(() => {});
  }
}

self.addEventListener("message", (event) => {
  if (event.data === "take-over") {
    event.waitUntil(self.skipWaiting());
  }
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
  const isPage = event.request.mode === "navigate" && !url.pathname.includes(".");
  event.respondWith(kept(event, isPage ? "/" : event.request));
});

// What the list above leaves out (the office's app) is kept when it was first fetched.
async function kept(event, wanted) {
  const cache = await caches.open(VERSION);
  const known = await cache.match(wanted);
  if (known) {
    return known;
  }
  const answer = await fetch(event.request);
  if (answer.ok && new URL(event.request.url).pathname.startsWith("/office-")) {
    const copy = answer.clone();
    // Where there is no room the page is there all the same.
    event.waitUntil(cache.put(event.request, copy).catch(() => {}));
  }
  return answer;
}
