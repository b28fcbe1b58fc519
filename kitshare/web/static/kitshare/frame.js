// The frame's own script: the error summary takes the focus, so that a screen reader starts there.
document.querySelector("[data-takes-focus]")?.focus();

// The grid of days opens at today.
const here = document.querySelector("[data-scroll-here]");
const box = here?.closest("[role=region]");
if (box) box.scrollLeft = here.offsetLeft - box.clientWidth / 2;

// A form is sent once: a second tap while the first is on its way does nothing. The server holds too.
document.addEventListener("submit", (event) => {
  if (event.target.dataset.onItsWay) {
    event.preventDefault();
    return;
  }
  if (!event.target.hasAttribute("hx-get") && event.target.method === "post") event.target.dataset.onItsWay = "1";
});
window.addEventListener("pageshow", () => {
  for (const form of document.querySelectorAll("form[data-on-its-way]")) delete form.dataset.onItsWay;
});
