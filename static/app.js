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

// Whatever says so is printed.
for (const button of document.querySelectorAll("[data-print]")) {
  button.hidden = false;
  button.addEventListener("click", () => window.print());
}
