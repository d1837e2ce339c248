// What was entered without a network: kept on this device, and sent once there is one. Used by pages and by worker.js.

self.queue = (() => {
  const FORMS = [
    /^\/baths\/lines\/\d+\/log$/,
    /^\/bookings\/\d+\/arrive$/,
    /^\/incidents\/report$/,
    /^\/building\/(touch|guests)$/,
  ];
  const AT_ONCE = 20; // as many as the server takes in one

  function opened() {
    return new Promise((resolve, reject) => {
      const asked = indexedDB.open("labsys", 1);
      asked.onupgradeneeded = () => {
        asked.result.createObjectStore("entries", { keyPath: "key" });
        asked.result.createObjectStore("known");
      };
      asked.onsuccess = () => resolve(asked.result);
      asked.onerror = () => reject(asked.error);
    });
  }

  async function inStore(name, mode, work) {
    const database = await opened();
    return new Promise((resolve, reject) => {
      const change = database.transaction(name, mode);
      const asked = work(change.objectStore(name));
      change.oncomplete = () => resolve(asked.result);
      change.onabort = () => reject(change.error);
    }).finally(() => database.close());
  }

  const read = (name, work) => inStore(name, "readonly", work);
  const write = (name, work) => inStore(name, "readwrite", work);

  const isKept = (path) => FORMS.some((form) => form.test(path));
  const isIncident = (entry) => entry.path === "/incidents/report";
  const known = (name) => read("known", (store) => store.get(name));
  const know = (name, value) => write("known", (store) => store.put(value, name));

  /** Everything kept, in the order it happened. */
  async function all() {
    const entries = await read("entries", (store) => store.getAll());
    return entries.sort((one, other) => one.happened - other.happened);
  }

  /** Keep what a form would have sent; false where nobody is known here, so that nobody could confirm it. */
  async function keep({ path, fields, happened }) {
    const who = (await known("who")) ?? "";
    const typed = fields.filter(([name, text]) => text !== "" && !["csrf_token", "submission_key"].includes(name));
    if (!who && !typed.some(([name]) => name === "claimed")) return false;
    const key = fields.find(([name]) => name === "submission_key")?.[1] || crypto.randomUUID();
    await write("entries", (store) => store.put({ key, path, fields: typed, happened, who }));
    return true;
  }

  /** Send what is kept; page and worker take turns, so that nothing is sent by both. */
  const send = () => navigator.locks.request("labsys-send", sendAll);
  const soon = () => AbortSignal.timeout(20000); // no turn is taken for ever

  async function sendAll() {
    if (!(await all()).length) return;
    const before = Date.now();
    const { token, now, who, tablet } = await (await fetch("/offline/hello", { cache: "no-store", signal: soon() })).json();
    const offset = Math.round(now - (before + Date.now()) / 2); // of our clock, as far as it stands wrong
    const ours = (await all()).filter((entry) => tablet || entry.who === who);
    for (let first = 0; first < ours.length; first += AT_ONCE) {
      const entries = ours.slice(first, first + AT_ONCE);
      const sent = entries.map((entry) => ({ ...entry, happened: entry.happened + offset }));
      const answer = await fetch("/offline/entries", {
        method: "POST",
        headers: { "Content-Type": "application/json", "X-CSRFToken": token },
        body: JSON.stringify({ entries: sent }),
        signal: soon(),
      });
      if (!answer.ok) return;
      for (const [key, { said, needs }] of Object.entries((await answer.json()).answers)) await answered(key, said, needs);
    }
  }

  /** An entry leaves the device once the server has answered for its key; what needs somebody is told on a page. */
  async function answered(key, said, needs) {
    if (needs) await know("news", [...((await known("news")) ?? []), said]);
    await write("entries", (store) => store.delete(key));
  }

  return { all, isIncident, isKept, keep, know, known, send };
})();
