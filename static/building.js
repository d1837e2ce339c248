// One touch in or out without leaving the page, so that many can be noted while there is no network: worker.js keeps
// each with its time. Without this module, or without the worker, each touch is an ordinary button.

const page = document.querySelector("[data-touches]");

/** Say beside the name what was touched, before anybody has heard of it. */
function mark(form, fields) {
  const said = document.createElement("span");
  said.className = "tag dashed";
  const at = new Date().toTimeString().slice(0, 5);
  said.textContent = `${fields.get("name") ?? ""} ${fields.get("way") ?? "in"} at ${at}, kept on this device`.trim();
  const row = form.closest("li") ?? form.parentElement;
  row.querySelector(".tag.dashed")?.remove();
  (row.querySelector("div") ?? row).append(" ", said);
  if (fields.has("name")) form.reset();
}

async function onTouch(event) {
  const form = event.currentTarget;
  const fields = new FormData(form);
  const isMissing = fields.has("name") && !fields.get("name").trim(); // the server says what is missing
  if (isMissing || !navigator.serviceWorker?.controller) return;
  event.preventDefault();
  event.stopImmediatePropagation();
  fields.set("submission_key", crypto.randomUUID());
  const sent = { method: "POST", body: new URLSearchParams(fields), redirect: "manual" };
  const answer = await fetch(form.action, { ...sent, headers: { Accept: "application/json" } });
  if (answer.status === 202) {
    mark(form, fields);
    page.dispatchEvent(new Event("kept", { bubbles: true }));
  } else location.reload();
}

page.querySelectorAll("form[data-touch]").forEach((form) => form.addEventListener("submit", onTouch, { capture: true }));
