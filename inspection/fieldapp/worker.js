// The field app's service worker. The lines above this one, written by the server, say VERSION, FILES (address and
// SHA-256 of each), ADDRESS, PAGE and POLICY. It keeps one version whole and answers from it; it sends nothing itself.

const KEPT = `field-${VERSION}`;

/** One file of this version, by its digest: a phone never runs modules of two versions. */
async function fetched(address) {
  const answer = await fetch(address, { cache: "no-cache", credentials: "same-origin", redirect: "error" });
  if (!answer.ok) throw new Error(`${address}: ${answer.status}`);
  const bytes = await answer.clone().arrayBuffer();
  const digest = new Uint8Array(await crypto.subtle.digest("SHA-256", bytes));
  if (btoa(String.fromCharCode(...digest)) !== FILES[address]) throw new Error(`${address} is of another version`);
  return answer;
}

async function keep() {
  const cache = await caches.open(KEPT);
  const addresses = Object.keys(FILES);
  // Some at a time: a phone at the edge of a signal does not open a hundred connections.
  for (let at = 0; at < addresses.length; at += 6) {
    await Promise.all(
      addresses.slice(at, at + 6).map(async (address) => cache.put(address, await fetched(address)))
    );
  }
}

async function forget() {
  const names = await caches.keys();
  const old = names.filter((name) => /^field-[0-9a-f]{16}$/.test(name) && name !== KEPT);
  await Promise.all(old.map((name) => caches.delete(name)));
}

const page = () =>
  new Response(PAGE, {
    headers: {
      "Content-Type": "text/html; charset=utf-8",
      "Content-Security-Policy": POLICY,
      "X-Frame-Options": "DENY",
      "X-Content-Type-Options": "nosniff",
      "Referrer-Policy": "same-origin",
      "Cross-Origin-Opener-Policy": "same-origin",
    },
  });

self.addEventListener("install", (event) => event.waitUntil(keep()));
self.addEventListener("activate", (event) => event.waitUntil(forget().then(() => self.clients.claim())));
// A new version waits until the person says so, or until no page of the app is open.
self.addEventListener("message", (event) => {
  if (event.data === "use the new version") self.skipWaiting();
});
self.addEventListener("fetch", (event) => {
  const address = new URL(event.request.url);
  if (event.request.method !== "GET" || address.origin !== self.location.origin) return;
  if (address.pathname === ADDRESS && event.request.mode === "navigate") {
    event.respondWith(page());
  } else if (address.pathname in FILES) {
    event.respondWith(
      caches.open(KEPT).then(async (cache) => (await cache.match(address.pathname)) || fetched(address.pathname))
    );
  }
});
