// Moving a booking in the month: dragged with the pointer, or picked up and carried by arrow keys. Both end on the page
// that looks the move over. Without this script the same page is reached by "Move" in the list below.
const grid = document.querySelector("[data-move]");
if (grid) {
  const hint = document.getElementById("move-hint");
  const status = document.getElementById("move-status");
  const heads = [...grid.querySelectorAll("thead th")].slice(1);
  const inWords = new Intl.DateTimeFormat(document.documentElement.lang, {
    weekday: "short", day: "numeric", month: "short", timeZone: "UTC",
  });
  const keyOf = (link) => link.getAttribute("href").match(/(\d+)\/$/)[1];
  const shifted = (day, days) => {
    const [year, month, date] = day.split("-").map(Number);
    return new Date(Date.UTC(year, month - 1, date + days));
  };
  let carried = null; // the link of the booking, its bars, by how many days it is carried

  function carry(link) {
    const bars = [...grid.querySelectorAll(`a[href="${link.getAttribute("href")}"]`)].map((one) => one.closest("td"));
    carried = { link, bars, days: 0, width: heads[0].getBoundingClientRect().width };
    for (const bar of bars) bar.classList.add("carried");
  }

  function carryBy(days) {
    carried.days = days;
    for (const bar of carried.bars) bar.style.transform = `translateX(${days * carried.width}px)`;
    const day = shifted(carried.link.dataset.out, days);
    const iso = day.toISOString().slice(0, 10);
    for (const head of heads) head.classList.toggle("drop-day", head.querySelector("a").search.endsWith(iso));
    status.textContent = status.dataset.words.replace("%day%", inWords.format(day));
  }

  function letGo() {
    if (!carried) return;
    for (const bar of carried.bars) {
      bar.classList.remove("carried");
      bar.style.transform = "";
    }
    for (const head of heads) head.classList.remove("drop-day");
    carried = null;
    status.textContent = "";
  }

  function drop() {
    const { link, days } = carried;
    if (!days) return letGo();
    const day = shifted(link.dataset.out, days).toISOString().slice(0, 10);
    const place = grid.dataset.move.replace("/0/", `/${keyOf(link)}/`);
    window.location.assign(`${place}?out_on=${day}&was=${link.dataset.out}&then=season`);
  }

  // With the pointer. A finger scrolls instead: for it there is "Move" in the list.
  let held = null;
  grid.addEventListener("dragstart", (event) => event.preventDefault());
  grid.addEventListener("pointerdown", (event) => {
    const link = event.target.closest("td.bar")?.querySelector("a[data-out]");
    if (!link || event.button !== 0 || event.pointerType === "touch") return;
    held = { link, x: event.clientX, scroll: grid.scrollLeft };
  });
  window.addEventListener("pointermove", (event) => {
    if (!held) return;
    const edges = grid.getBoundingClientRect();
    if (carried && event.clientX > edges.right - 40) grid.scrollLeft += 12;
    if (carried && event.clientX < edges.left + 40) grid.scrollLeft -= 12;
    const moved = event.clientX - held.x + grid.scrollLeft - held.scroll;
    if (!carried && Math.abs(moved) > 6) carry(held.link);
    if (carried) carryBy(Math.round(moved / carried.width));
  });
  window.addEventListener("pointerup", () => {
    if (held && carried) {
      // The click that follows would open the booking's page.
      const stop = (event) => event.preventDefault();
      window.addEventListener("click", stop, { capture: true, once: true });
      setTimeout(() => window.removeEventListener("click", stop, { capture: true }), 0);
      drop();
    }
    held = null;
  });

  // With the keyboard.
  const steps = { ArrowLeft: -1, ArrowRight: 1, ArrowUp: -7, ArrowDown: 7 };
  grid.addEventListener("keydown", (event) => {
    const link = event.target.closest("a[data-out]");
    if (!link || event.ctrlKey || event.altKey || event.metaKey) return;
    if (!carried && event.key === " ") {
      carry(link);
      carryBy(0);
    } else if (carried && event.key in steps) {
      carryBy(carried.days + steps[event.key]);
      carried.bars[0].scrollIntoView({ block: "nearest", inline: "nearest" });
    } else if (carried && (event.key === "Enter" || event.key === " ")) drop();
    else return;
    event.preventDefault();
  });
  window.addEventListener("keydown", (event) => {
    if (event.key !== "Escape") return;
    held = null;
    letGo();
  });
  grid.addEventListener("focusout", () => { if (!held) letGo(); });
  window.addEventListener("pageshow", letGo);

  const movable = grid.querySelectorAll("a[data-out]");
  for (const link of movable) link.setAttribute("aria-describedby", hint.id);
  hint.hidden = !movable.length;
}
