// The service worker as the page sees it: registered once, and a new version taken only when the person says so.

const ADDRESS = "/field/worker.js";

/** Registers the worker and tells `app.renewed` when a new version lies ready. */
export async function watchWorker(app, draw, stale) {
  const workers = navigator.serviceWorker;
  if (!workers) {
    app.without = "This browser cannot open the app without a signal.";
    return draw();
  }
  const controlled = Boolean(workers.controller);
  // It would open without a signal now.
  const kept = () => {
    app.offlineReady = Boolean(workers.controller);
    if (app.offlineReady) document.documentElement.dataset.kept = "yes";
    draw();
  };
  workers.addEventListener("controllerchange", () => {
    if (app.taking) location.reload();
    else if (controlled) stale("A new version of the app was taken in another tab.");
    kept();
  });
  try {
    const registration = await workers.register(ADDRESS, { scope: "/field/", updateViaCache: "none" });
    const look = () => {
      if (registration.waiting && workers.controller) {
        app.renewed = registration.waiting;
        draw();
      }
    };
    registration.addEventListener("updatefound", () => {
      registration.installing?.addEventListener("statechange", look);
    });
    look();
    await workers.ready;
    kept();
  } catch (error) {
    // Offline the worker that is there goes on; only without any the app would not open in the field.
    if (!workers.controller) app.without = `The app could not be kept on this phone: ${error.message}`;
    draw();
  }
  return undefined;
}

/** The office has another version than this one: the browser is asked to fetch it. */
export const lookForNew = () =>
  navigator.serviceWorker?.getRegistration().then((one) => one?.update()).catch(() => {});

/** Everything typed is kept at each key, so the page may be loaded anew. */
export function takeNewVersion(app) {
  app.taking = true;
  app.renewed.postMessage("use the new version");
}
