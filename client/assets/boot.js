// Starts the app that the address asks for, and the worker that keeps the phone's for when there is no
// signal.
const isOffice = /^#\/(office|new|follow|import|setup|join|reset|practice|devices|book\/([^/]*\/(sign|sheet|photos)|practice-[^/]*))(\/|$)/.test(location.hash);
const [script, module] = isOffice ? ["/{{office_js}}", "/{{office_wasm}}"] : ["/{{app_js}}", "/{{app_wasm}}"];

try {
  // Both come at the same time.
  const bytes = fetch(module);
  const { default: init } = await import(script);
  await init({ module_or_path: bytes });
} catch (reason) {
  console.error(reason);
  sayWhy();
}

if ("serviceWorker" in navigator) {
  keepUpToDate(navigator.serviceWorker).catch(() => {
    // Without a worker the app needs signal to start; everything else is the same.
  });
}

// The office's app comes once the phone's works, so that its pages (a new job, photos, sign-off) are there
// without signal too; not where room is scarce.
async function keepOffice() {
  const ROOM = 50e6;
  const { quota, usage } = await navigator.storage.estimate();
  if (!navigator.onLine || quota - usage < ROOM) {
    return;
  }
  for (const file of ["/{{office_js}}", "/{{office_wasm}}"]) {
    if (!(await caches.match(file))) {
      // The worker keeps it on its way.
      await (await fetch(file, { priority: "low" })).arrayBuffer();
    }
  }
}

// Says `new-version` when a newer app is here and waits, and puts it in this one's place when the page
// says `take-new-version`: never by itself.
async function keepUpToDate(workers) {
  const EVERY_MS = 60 * 60 * 1000;
  // The first worker of a browser is no news.
  const hadOne = workers.controller !== null;
  let isAsked = false;
  const tell = () => {
    document.documentElement.dataset.newVersion = "here";
    dispatchEvent(new Event("new-version"));
  };
  workers.addEventListener("controllerchange", () => {
    if (isAsked) {
      location.reload();
    } else if (hadOne) {
      // Another tab took it.
      tell();
    }
  });
  const registration = await workers.register("/sw.js");
  const AFTER_MS = 1000;
  const keepBoth = () => keepOffice().catch(() => {});
  workers.ready.then(() => setTimeout(keepBoth, AFTER_MS));
  addEventListener("online", keepBoth);
  addEventListener("take-new-version", () => {
    isAsked = true;
    if (registration.waiting) {
      registration.waiting.postMessage("take-over");
    } else {
      location.reload();
    }
  });
  const watch = (fresh) =>
    fresh?.addEventListener("statechange", () => fresh.state === "installed" && workers.controller && tell());
  if (registration.waiting && workers.controller) {
    tell();
  }
  watch(registration.installing);
  registration.addEventListener("updatefound", () => watch(registration.installing));
  const look = () => {
    if (document.visibilityState === "visible" && navigator.onLine) {
      // Not reached now, it is looked for another time.
      registration.update().catch(() => {});
    }
  };
  document.addEventListener("visibilitychange", look);
  setInterval(look, EVERY_MS);
}

// The office's pages are not there without signal in the first seconds of a phone.
function sayWhy() {
  const isSpanish = (localStorage.getItem("language") ?? navigator.language).startsWith("es");
  const [why, again, cars] = isSpanish
    ? ["Esta página no se pudo cargar. ¿Hay señal?", "Probar otra vez", "Coches en el taller"]
    : ["This page could not be loaded. Is there signal?", "Try again", "Cars in the bay"];
  const main = document.createElement("main");
  main.className = "page";
  const line = document.createElement("p");
  line.setAttribute("role", "alert");
  line.textContent = why;
  main.append(line);
  for (const [text, hash] of isOffice ? [[again, location.hash], [cars, "#/"]] : [[again, location.hash]]) {
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = text;
    button.addEventListener("click", () => {
      location.hash = hash;
      location.reload();
    });
    main.append(button);
  }
  document.body.replaceChildren(main);
}
