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

// What a link on the page leads to may be folded away: a region's causes, a sentence's table. Older browsers do not open
// it by themselves.
const unfold = () => {
  const at = document.getElementById(location.hash.slice(1));
  if (!at?.closest("details")) return;
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

// What is under way at the server is looked at again until it is through; then the page is loaded anew.
const underWay = document.querySelector("[data-under-way]");
if (underWay) {
  const address = location.pathname + location.search;
  // Where something may have been typed, only what is said of it changes.
  const stay = underWay.dataset.underWay === "stay";
  const look = async () => {
    try {
      const answer = await fetch(address);
      const page = new DOMParser().parseFromString(await answer.text(), "text/html");
      const now = page.querySelector("[data-under-way]");
      if (answer.ok && !now && stay) {
        document.querySelector("[data-then]").replaceWith(page.querySelector("[data-then]"));
        underWay.remove();
        return;
      }
      if (answer.ok && !now) {
        location.replace(address);
        return;
      }
      if (answer.ok) {
        underWay.querySelector("progress").value = now.querySelector("progress").value;
        underWay.querySelector("[data-progress]").textContent = now.querySelector("[data-progress]").textContent;
      }
    } catch {
      // Out of reach just now: it goes on there, and is looked for again.
    }
    setTimeout(look, 1000);
  };
  setTimeout(look, 400);
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

// The ears: after each answer and each check the server says what to ask and look at next. What is under the finger
// stays where it is: what was answered folds above only as far as the page can be moved along, and what is below is laid
// anew. Out of reach, the page stays as it is.
const questions = document.getElementById("questions");
if (questions) {
  const form = questions.closest("form");
  const ears = document.getElementById("ears");
  const more = document.getElementById("more");
  const drawing = document.querySelector(".side .drawing");
  const stood = questions.querySelector("[data-stood]");
  let asked = 0;

  const said = (question) => question.querySelector("input:checked");
  const tell = (question) => {
    const words = said(question)?.nextElementSibling.textContent ?? "";
    question.querySelector("[data-said]").textContent = words;
  };

  // Until the first check is made, all answers stood before it; from then on those that did are kept.
  const stand = () => {
    if (ears.querySelector("[data-look] input:checked")) return;
    const given = [...questions.querySelectorAll(".question")].filter(said);
    stood.value = given.map((question) => `${question.dataset.question}=${said(question).value}`).join(";");
  };
  stand();

  // Does something to the page above what was touched, and moves the page along by as much; undone if it cannot be.
  const above = (touched, act, undo) => {
    const before = touched.getBoundingClientRect().top;
    act();
    const moved = touched.getBoundingClientRect().top - before;
    if (scrollY + moved < 0) undo();
    else scrollBy({ top: moved, behavior: "instant" });
  };

  const lay = (touched, order, atOnce) => {
    const all = [...questions.querySelectorAll(".question")];
    const body = more.querySelector(".fold-body");
    for (const question of all) question.hidden = !said(question) && !order.includes(question.dataset.question);
    const is = Node.DOCUMENT_POSITION_PRECEDING;
    const before = (question) => touched && touched.compareDocumentPosition(question) & is;
    const open = order.map((code) => all.find((question) => question.dataset.question === code));
    const ask = open.filter((question) => question && question !== touched);
    const inMore = touched && more.contains(touched);
    for (const question of inMore ? [] : all.filter((question) => question !== touched && said(question))) {
      if (before(question)) {
        if (question.open) above(touched, () => { question.open = false; }, () => { question.open = true; });
      } else {
        question.open = false;
        more.before(question);
      }
    }
    // What was passed over goes to the others, unless the page cannot move along.
    for (const question of inMore ? [] : ask.filter(before)) {
      const after = question.nextSibling;
      above(touched, () => body.prepend(question), () => after.before(question));
    }
    const below = ask.filter((question) => !before(question));
    const next = inMore ? [] : below.slice(0, atOnce);
    const rest = below.slice(next.length);
    const lead = questions.querySelector("[data-next]");
    if (!inMore) more.before(lead, ...next);
    for (const question of next) question.open = true;
    for (const question of rest) question.open = false;
    body.append(...rest);
    lead.hidden = atOnce === 0 || (!inMore && next.length === 0);
    lead.textContent = questions.querySelector("input:checked") ? "Ask these next: they tell most." : "Ask these first: they tell most.";
    more.hidden = rest.length === 0 && !inMore;
    more.querySelector("[data-more]").textContent = rest.length;
  };

  // Beside the form stands what the ears draw below the questions where there is no room beside it.
  const draw = (told) => {
    const drawn = told.querySelector(".drawing")?.cloneNode(true).childNodes ?? [];
    drawing?.replaceChildren(...drawn);
  };

  const hear = async (input) => {
    const mine = ++asked;
    const body = new URLSearchParams();
    for (const [name, value] of new FormData(form)) {
      if (/^(instrument\.|customer\.kind|complaint\.answers\.|check\.)/.test(name)) body.append(name, value);
    }
    // The checks down to the one that was touched stay where they are.
    const look = input.closest("[data-look]");
    const looks = [...ears.querySelectorAll("[data-look]")];
    for (const kept of looks.slice(0, looks.indexOf(look) + 1)) body.append("kept", kept.dataset.look);
    try {
      const answer = await fetch(questions.dataset.ears, { method: "POST", body });
      if (!answer.ok || mine !== asked) return;
      const page = new DOMParser().parseFromString(await answer.text(), "text/html");
      const told = page.querySelector("[data-order]");
      if (!told) return;
      const from = look?.getBoundingClientRect().top;
      lay(input.closest(".question"), told.dataset.order.split(" ").filter(Boolean), Number(told.dataset.atOnce));
      draw(told);
      const focused = ears.contains(document.activeElement) ? document.activeElement : undefined;
      ears.replaceChildren(told);
      if (focused?.name) ears.querySelector(`[name="${CSS.escape(focused.name)}"][value="${focused.value}"]`)?.focus({ preventScroll: true });
      const to = look && ears.querySelector(`[data-look="${look.dataset.look}"]`)?.getBoundingClientRect().top;
      if (to !== undefined) scrollBy({ top: to - from, behavior: "instant" });
    } catch {
      // Out of reach: the questions stay as they are, and all can be answered.
    }
  };

  const touches = (input) => {
    const question = input.closest(".question");
    if (question) {
      tell(question);
      stand();
    }
    if (/^(instrument\.|customer\.kind|complaint\.answers\.|check\.)/.test(input.name)) hear(input);
  };
  form.addEventListener("change", (event) => touches(event.target));

  // An answer tapped twice is taken back.
  let held;
  form.addEventListener("pointerdown", (event) => {
    const input = event.target.closest(".question label, [data-look] label")?.querySelector("input");
    held = input?.checked ? input : undefined;
  });
  form.addEventListener("click", (event) => {
    if (held && event.target === held) {
      held.checked = false;
      touches(held);
      held = undefined;
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
