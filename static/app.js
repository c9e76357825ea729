// The little that pages do by themselves: everything works without it.

// A summary of what wants mending takes the focus, so that it is read first.
document.querySelector("[data-focus]")?.focus();

// A double tap sends once; coming back to the page makes the button work again.
document.addEventListener("submit", (event) => {
  const form = event.target;
  if (form.dataset.sent) {
    event.preventDefault();
    return;
  }
  form.dataset.sent = "yes";
});
window.addEventListener("pageshow", () => {
  for (const form of document.querySelectorAll("form[data-sent]")) delete form.dataset.sent;
});

// A region of the drawing leads to its causes, which may be folded away: older browsers do not open them by themselves.
const unfold = () => {
  const at = location.hash.startsWith("#region-") && document.getElementById(location.hash.slice(1));
  if (!at) return;
  for (let fold = at.closest("details"); fold; fold = fold.parentElement.closest("details")) fold.open = true;
  at.scrollIntoView();
  at.focus({ preventScroll: true });
};
window.addEventListener("hashchange", unfold);
unfold();

// Whatever says so is printed.
for (const button of document.querySelectorAll("[data-print]")) {
  button.hidden = false;
  button.addEventListener("click", () => window.print());
}

// While a name or a phone is typed, those who are known are shown below it.
const matches = document.querySelector("[data-matches]");
if (matches) {
  const fields = ["customer.name", "customer.phone"].map((id) => document.getElementById(id));
  let asked = 0;
  const look = async () => {
    const mine = ++asked;
    const body = new URLSearchParams(fields.map((field) => [field.name, field.value]));
    try {
      const answer = await fetch(matches.dataset.matches, { method: "POST", body });
      if (!answer.ok || mine !== asked) return;
      const page = new DOMParser().parseFromString(`<ul>${await answer.text()}</ul>`, "text/html");
      matches.replaceChildren(...page.querySelectorAll("li"));
    } catch {
      // Out of reach: the button without script does the same, and typing goes on.
    }
  };
  let waiting;
  for (const field of fields) {
    field.addEventListener("input", () => {
      clearTimeout(waiting);
      waiting = setTimeout(look, 120);
    });
  }
}

// How many questions are answered, counted where it is seen; an answer tapped twice is taken back.
const intake = document.getElementById("intake");
if (intake) {
  const count = () => {
    for (const group of intake.querySelectorAll(".questions")) {
      const answered = group.querySelectorAll("input:checked").length;
      group.querySelector("[data-answered-group]").textContent = answered ? `${answered} answered` : "";
    }
  };
  intake.addEventListener("change", count);
  let held;
  intake.addEventListener("pointerdown", (event) => {
    const input = event.target.closest(".questions label")?.querySelector("input");
    held = input?.checked ? input : undefined;
  });
  intake.addEventListener("click", (event) => {
    if (held && event.target === held) {
      held.checked = false;
      held = undefined;
      count();
    }
  });
}

// What this device likes is kept on it, not at the shop: see device.js.
for (const form of document.querySelectorAll("form[data-device]")) {
  const root = document.documentElement.dataset;
  for (const name of ["theme", "hand"]) {
    for (const choice of form.elements[name] ?? []) {
      choice.checked = choice.value === (root[name] ?? "");
      choice.addEventListener("change", () => {
        if (choice.value) root[name] = choice.value;
        else delete root[name];
        try {
          if (choice.value) localStorage.setItem(name, choice.value);
          else localStorage.removeItem(name);
        } catch {
          // It holds for this page only.
        }
      });
    }
  }
  form.hidden = false;
}

// A new shop is most likely where its first device is.
const zone = document.querySelector("[data-own-zone]");
if (zone && !zone.value) zone.value = Intl.DateTimeFormat().resolvedOptions().timeZone ?? "";
