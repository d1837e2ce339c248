// Answers where nothing else comes through: with the help page, with a page to enter things on, and by keeping what is
// sent from the forms that queue.js names. It changes no other answer.

importScripts("/static/queue.js");

const STORE = "labsys-pages";
const HELP = "/help";
const NO_NETWORK = "/help/no-network";
const SHELL = "/offline"; // what can be entered without a network; nothing of anybody is in it
const PARTS = ["tokens.css", "labsys.css", "drawing.css", "offline.css", "labsys.js", "queue.js", "icon.svg"].map(
  (name) => `/static/${name}`,
);
const PATIENCE_MS = 2500; // a phone in a basement waits long for a network that is not there
const PATIENCE_WITH_FORMS_MS = 10000;
const KEPT_MS = 10 * 60 * 1000;

let keptAt = 0;
let hasShell = false; // it is had only by who is signed in, or at a tablet

async function keepPages(paths) {
  const store = await caches.open(STORE);
  for (const path of paths) {
    const answer = await fetch(path, { cache: "no-store" });
    const isIt = answer.ok && !answer.redirected; // not the question who is there
    if (isIt) await store.put(path, answer);
    if (path === SHELL) hasShell ||= isIt;
  }
}

/** Keep all pages anew, or the one that is still lacking. */
function keepAnew(hasChanged) {
  if (!hasChanged && Date.now() - keptAt < KEPT_MS) return hasShell ? undefined : keepPages([SHELL]);
  keptAt = Date.now();
  return keepPages([HELP, NO_NETWORK, SHELL, ...PARTS]);
}

async function kept(...paths) {
  const store = await caches.open(STORE);
  for (const path of paths) {
    const page = await store.match(path, { ignoreVary: true });
    if (page) return page;
  }
  return Response.error();
}

function late(milliseconds) {
  return new Promise((_, reject) => setTimeout(() => reject(new Error("late")), milliseconds));
}

async function help(request) {
  try {
    const answer = await Promise.race([fetch(request), late(PATIENCE_MS)]);
    return answer.ok ? answer : await kept(HELP);
  } catch {
    return kept(HELP);
  }
}

/** Send a form; where it does not come through, keep it. The server does the same entry only once, by its key. */
async function sendOrKeep(request) {
  const happened = Date.now();
  const again = request.clone();
  const fields = [...(await request.clone().formData())];
  const isFromShell = !fields.some(([name]) => name === "csrf_token");
  if (!isFromShell) {
    try {
      const answer = await Promise.race([fetch(again), late(PATIENCE_WITH_FORMS_MS)]);
      if (answer.status < 502) return answer;
    } catch {
      // No network: it is kept.
    }
  }
  const isKept = await self.queue.keep({ path: new URL(request.url).pathname, fields, happened }).catch(() => false);
  if (!isKept) return kept(NO_NETWORK);
  await self.registration.sync?.register("labsys").catch(() => {});
  return request.mode === "navigate" ? Response.redirect(SHELL, 303) : Response.json({ kept: true }, { status: 202 });
}

function onFetch(event) {
  const { request } = event;
  const { pathname } = new URL(request.url);
  if (request.method === "POST" && self.queue.isKept(pathname)) event.respondWith(sendOrKeep(request));
  else if (request.mode !== "navigate") {
    if (PARTS.includes(pathname)) event.respondWith(fetch(request).catch(() => kept(pathname)));
    return;
  } else if (pathname === HELP) event.respondWith(help(request));
  else if (request.method !== "GET") event.respondWith(fetch(request).catch(() => kept(NO_NETWORK)));
  else event.respondWith(fetch(request).catch(() => kept(SHELL, NO_NETWORK)));
  const hasChanged = request.method !== "GET"; // the look of the screen, who is signed in, what the lab says of itself
  event.waitUntil(Promise.resolve(keepAnew(hasChanged)).catch(() => {}));
}

self.addEventListener("install", (event) => {
  self.skipWaiting();
  event.waitUntil(keepAnew(true));
});
self.addEventListener("activate", (event) =>
  event.waitUntil(Promise.all([self.clients.claim(), caches.delete("help")])), // what an earlier worker kept
);
self.addEventListener("fetch", onFetch);
self.addEventListener("sync", (event) => event.waitUntil(self.queue.send()));
