// Starts the app, and the worker that keeps it for when there is no signal.
import init from "./{{app_js}}";

await init({ module_or_path: "/{{app_wasm}}" });

if ("serviceWorker" in navigator) {
  navigator.serviceWorker.register("/sw.js").catch(() => {
    // Without a worker the app needs signal to start; everything else is the same.
  });
}
