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

// The help page stays on this device, for where there is no network. Browsers allow it over HTTPS alone.
navigator.serviceWorker?.register("/help-worker.js").catch(() => {});
