// Keeps the help pages on this device, and shows them where nothing else comes through. It changes no other answer.

const STORE = "help";
const HELP = "/help";
const NO_NETWORK = "/help/no-network";
const PATIENCE_MS = 2500; // a phone in a basement waits long for a network that is not there
const KEPT_MS = 10 * 60 * 1000;

let keptAt = 0;

async function keep() {
  keptAt = Date.now();
  const store = await caches.open(STORE);
  for (const path of [HELP, NO_NETWORK]) {
    const answer = await fetch(path, { cache: "no-store" });
    if (answer.ok) await store.put(path, answer);
  }
}

async function kept(path) {
  const store = await caches.open(STORE);
  return (await store.match(path, { ignoreVary: true })) ?? Response.error();
}

function late() {
  return new Promise((_, reject) => setTimeout(() => reject(new Error("late")), PATIENCE_MS));
}

async function help(request) {
  try {
    const answer = await Promise.race([fetch(request), late()]);
    return answer.ok ? answer : await kept(HELP);
  } catch {
    return kept(HELP);
  }
}

self.addEventListener("install", (event) => {
  self.skipWaiting();
  event.waitUntil(keep());
});

self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));

self.addEventListener("fetch", (event) => {
  const { request } = event;
  if (request.mode !== "navigate") return;
  const isHelp = new URL(request.url).pathname === HELP;
  event.respondWith(isHelp ? help(request) : fetch(request).catch(() => kept(NO_NETWORK)));
  const hasChanged = request.method !== "GET"; // the look of the screen, or what the lab says of itself
  if (hasChanged || Date.now() - keptAt > KEPT_MS) event.waitUntil(keep().catch(() => {}));
});
