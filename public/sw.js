// Keeps the whole app on this device; a build writes its stamp and files in here: see DEVELOPERS.md.
const BUILD = "BUILD_STAMP";
const FILES = "BUILD_FILES";

const scope = new URL(registration.scope);
const ours = `scrieve-board ${scope.pathname} `;
const cacheName = ours + BUILD;

async function keepAll() {
  const cache = await caches.open(cacheName);
  const keep = async ([name, integrity]) => {
    const address = new URL(name, scope);
    const answer = await fetch(address, { cache: "no-cache", integrity });
    if (!answer.ok) throw new Error(`${address} answers ${answer.status}`);
    await cache.put(address, answer);
  };
  await Promise.all(Object.entries(FILES).map(keep));
}

async function putAway(keeps) {
  const names = await caches.keys();
  const old = names.filter((name) => name.startsWith(ours) && !keeps(name));
  await Promise.all(old.map((name) => caches.delete(name)));
}

async function takeOver() {
  if (FILES) {
    await putAway((name) => name === cacheName);
    await clients.claim();
  } else {
    await putAway(() => false);
    await registration.unregister();
  }
}

// A newer version waits until it is asked to take over.
addEventListener("install", (event) => event.waitUntil(FILES ? keepAll() : skipWaiting()));
addEventListener("activate", (event) => event.waitUntil(takeOver()));
addEventListener("message", (event) => {
  if (event.data === "take over") skipWaiting();
});

addEventListener("fetch", (event) => {
  const address = new URL(event.request.url);
  if (!FILES || event.request.method !== "GET" || !address.href.startsWith(scope.href)) return;
  const path = address.pathname.slice(scope.pathname.length);
  const name = path === "index.html" ? "" : path;
  // What another build asks for is for its host to answer.
  const stamp = address.searchParams.get("v");
  if (!Object.hasOwn(FILES, name) || (stamp && stamp !== BUILD)) return;
  const kept = async () => {
    const cache = await caches.open(cacheName);
    const found = await cache.match(new URL(name, scope));
    // By the address that was asked for: our scripts read what stands behind its question mark.
    return found ? new Response(found.body, found) : fetch(event.request);
  };
  event.respondWith(kept());
});
