// One touch in or out, kept on this phone with its time where there is no network, and sent once there is one.
// Without this module each touch is an ordinary button.

const page = document.querySelector("[data-touches]");
const STORE = `labsys-touches-${page.dataset.touches}`; // of whoever is signed in: nobody sends another's
const told = page.querySelector("[data-unsent]");
const AGAIN_MS = 5000;

let isSending = false;

function kept() {
  return JSON.parse(localStorage.getItem(STORE) ?? "[]");
}

function keep(touches) {
  localStorage.setItem(STORE, JSON.stringify(touches));
  show(touches);
}

function newKey() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  return Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
}

function show(touches, problem = "") {
  const words = touches.length ? `${touches.length} kept on this phone, not sent yet.` : "";
  told.textContent = [problem, words].filter(Boolean).join(" ");
  told.hidden = !told.textContent;
}

/** Say beside the name what was touched, before anybody has heard of it. */
function mark(form, touch) {
  const at = new Date(touch.touched).toTimeString().slice(0, 5);
  const said = document.createElement("span");
  said.className = "tag dashed";
  said.textContent = `${touch.fields.way ?? "in"} at ${at}, kept on this phone`;
  const row = form.closest("li") ?? form.parentElement;
  row.querySelector(".tag.dashed")?.remove();
  (row.querySelector("div") ?? row).append(" ", said);
}

function onTouch(event) {
  const form = event.currentTarget;
  const fields = Object.fromEntries(new FormData(form));
  if ("name" in fields && !fields.name.trim()) return; // the server says what is missing
  const touch = { action: form.action, fields, touched: Date.now(), key: newKey() };
  try {
    keep([...kept(), touch]);
  } catch {
    return; // nothing can be kept here: sent as a form
  }
  event.preventDefault();
  event.stopImmediatePropagation();
  mark(form, touch);
  if ("name" in fields) form.reset();
  send();
}

/** Send what is kept, the oldest first; how long ago each was is said by this phone's own clock. */
async function send() {
  if (isSending) return;
  isSending = true;
  let problem = "";
  let sent = 0;
  try {
    for (let touches = kept(); touches.length; touches = kept()) {
      const answer = await post(touches[0]);
      if (answer.type === "opaqueredirect" || answer.status === 400 || answer.status >= 500) {
        problem = "Not taken over yet: open this page again, and sign in if it asks you.";
        break;
      }
      if (!answer.ok) problem = (await answer.json()).said;
      keep(kept().filter((touch) => touch.key !== touches[0].key));
      sent += 1;
    }
  } catch {
    // No network: it stays kept.
  }
  isSending = false;
  show(kept(), problem);
  if (sent && !problem && !kept().length) location.reload();
}

function post(touch) {
  const token = page.querySelector('[name="csrf_token"]')?.value ?? touch.fields.csrf_token;
  const body = new URLSearchParams({
    ...touch.fields,
    csrf_token: token,
    submission_key: touch.key,
    elapsed_ms: Math.max(0, Date.now() - touch.touched),
  });
  const headers = { Accept: "application/json" };
  return fetch(touch.action, { method: "POST", body, headers, redirect: "manual", credentials: "same-origin" });
}

page.querySelectorAll("form[data-touch]").forEach((form) => form.addEventListener("submit", onTouch, { capture: true }));
window.addEventListener("online", send);
setInterval(() => kept().length && send(), AGAIN_MS);
show(kept());
if (kept().length) send();
