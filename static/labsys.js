// Comfort only: every page works without this module.

/** Stop a second tap on the same form; the server's submission key stays the real guard. */
function sendOnce(form) {
  form.addEventListener("submit", (event) => {
    if (form.dataset.sent) {
      event.preventDefault();
      return;
    }
    form.dataset.sent = "yes";
    event.submitter?.setAttribute("aria-disabled", "true");
    setTimeout(() => release(form), 5000); // a download leaves the page standing
  });
}

function release(form) {
  delete form.dataset.sent;
  form.querySelectorAll("[aria-disabled]").forEach((button) => button.removeAttribute("aria-disabled"));
}

/** Put a minus and a plus beside a number, for a thumb. */
function addSteps(box) {
  const input = box.querySelector("input");
  const label = document.querySelector(`label[for="${input.id}"]`);
  const name = label?.firstChild.textContent.trim() ?? "";
  const button = (sign, words, act) => {
    const made = document.createElement("button");
    made.type = "button";
    made.textContent = sign;
    made.setAttribute("aria-label", `${words}: ${name}`);
    made.addEventListener("click", () => {
      act();
      input.dispatchEvent(new Event("change", { bubbles: true }));
    });
    return made;
  };
  box.prepend(button("−", "One less", () => input.stepDown()));
  box.append(button("+", "One more", () => input.stepUp()));
  box.classList.add("on");
}

/** A touch on the name of a size is one more of it. */
function countByTouch(cell) {
  const input = cell.querySelector("input");
  cell.querySelector("label").addEventListener("click", (event) => {
    event.preventDefault();
    input.stepUp();
    input.dispatchEvent(new Event("input", { bubbles: true }));
  });
}

/** Have the button of a form of counts say what it will save. */
function sayWhatIsSaved(form) {
  const button = form.querySelector(".save button");
  const plain = button.textContent;
  const say = () => {
    const counted = [...form.querySelectorAll(".cell")]
      .map((cell) => [Number(cell.querySelector("input").value), cell.querySelector("label").textContent])
      .filter(([count]) => count > 0);
    const together = counted.reduce((sum, [count]) => sum + count, 0);
    const what = counted.length === 1 ? `${together} of ${counted[0][1].replace(/\s+/g, " ").trim()}` : `${together} pieces`;
    button.textContent = counted.length ? `${plain} ${what}` : plain;
  };
  form.addEventListener("input", say);
  say();
}

const forms = document.querySelectorAll('form[method="post"]');
forms.forEach(sendOnce);
window.addEventListener("pageshow", () => forms.forEach(release));
document.querySelectorAll(".stepper").forEach(addSteps);
document.querySelectorAll(".cell").forEach(countByTouch);
document.querySelectorAll("form.log").forEach(sayWhatIsSaved);
document.querySelector(".errors")?.focus();

// What holds for a while only is left out of a page that was kept on a device for longer.
document.querySelectorAll("[data-until]").forEach((part) => {
  part.hidden = Date.parse(part.dataset.until) < Date.now();
});

// What was entered without a network. Browsers keep it over HTTPS alone, and on the machine itself.
const AGAIN_MS = 5000;
const inWords = (number) => `${number} ${number === 1 ? "entry is" : "entries are"} kept on this device, not sent yet.`;

/** What an entry on this device is, for its list. */
function entryInWords({ path, fields, happened }) {
  const typed = Object.fromEntries(fields);
  const went = fields.filter(([name, count]) => name.startsWith("went-") && Number(count) > 0);
  const pieces = went.map(([name, count]) => `${count} of ${name.split("-").slice(2).join("-")}`).join(", ");
  const what =
    path === "/incidents/report" ? `Incident: ${typed.what ?? ""}` : pieces || typed.name || (typed.way === "out" ? "Out" : "In");
  return `${new Date(happened).toLocaleString("en-GB", { dateStyle: "medium", timeStyle: "short" })}: ${what}`;
}

let unsent = 0;

async function tellUnsent() {
  const entries = await queue.all();
  const told = document.querySelector("[data-unsent]");
  if (told) {
    const news = (await queue.known("news")) ?? [];
    const untold = entries.some(queue.isIncident) ? told.dataset.nobodyTold : "";
    const words = [...news, entries.length ? inWords(entries.length) : ""].join(" ");
    const strong = Object.assign(document.createElement("b"), { textContent: untold });
    told.replaceChildren(strong, ` ${words} `, told.querySelector("a"));
    told.hidden = !(entries.length || news.length);
    if (location.pathname === "/kept") await queue.know("news", []);
  }
  const list = document.querySelector("[data-kept-entries]");
  list?.replaceChildren(
    ...entries.map((entry) => Object.assign(document.createElement("li"), { textContent: entryInWords(entry) })),
  );
  document.querySelectorAll("[data-nothing-kept]").forEach((part) => (part.hidden = entries.length > 0));
  if (entries.length < unsent && document.querySelector("[data-touches]")) location.reload(); // others are in now
  unsent = entries.length;
}

async function sendUnsent() {
  await tellUnsent();
  if (unsent) await queue.send().catch(() => {}); // no network: it stays kept
  await tellUnsent();
}

/** Say at the first press what is not sent; the second signs out. */
function sayWhatIsUnsent(form) {
  form.addEventListener(
    "submit",
    async (event) => {
      if (form.dataset.told) return;
      event.preventDefault();
      event.stopImmediatePropagation();
      form.dataset.told = "yes";
      const number = (await queue.all().catch(() => [])).length;
      if (!number) return form.requestSubmit();
      const words = `${inWords(number)} It waits here until you sign in on this device again. Press again to sign out.`;
      form.append(Object.assign(document.createElement("p"), { className: "caution", role: "alert", textContent: words }));
    },
    { capture: true },
  );
}

if (self.queue && isSecureContext && navigator.serviceWorker) {
  const { person } = document.body.dataset; // "" for nobody; not said by the pages that are kept
  if (person !== undefined) queue.know("who", person);
  navigator.serviceWorker.register("/worker.js").catch(() => {});
  document.querySelectorAll("form.out").forEach(sayWhatIsUnsent);
  document.querySelectorAll("[data-keeps]").forEach((part) => (part.hidden = false));
  document.querySelectorAll("[data-keeps-not]").forEach((part) => (part.hidden = true));
  document.addEventListener("kept", tellUnsent);
  window.addEventListener("online", sendUnsent);
  setInterval(sendUnsent, AGAIN_MS);
  sendUnsent();
}
