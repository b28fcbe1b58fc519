// A check with a thumb: counts go up and down by buttons, complete trays are pressed flat, photos are kept as they are taken.
// Without any of this the sheet is a plain form that says and does the same.
const sheet = document.querySelector("[data-sheet]");

const words = (pattern, done, all) => pattern.replace("{done}", done).replace("{all}", all);
const parts = (root) => [...root.querySelectorAll("[data-part]")];
const condition = (part) => part.querySelector("[data-condition]:checked")?.value ?? "";
const picked = (part) => part.querySelector("[data-pick]:checked")?.dataset.pick ?? "none";
// Different, but not said how yet, still wants somebody.
const isSeen = (part) => picked(part) === "all" || (picked(part) === "other" && condition(part) !== "");

function tally() {
  for (const tray of sheet.querySelectorAll("[data-tray]")) {
    const all = parts(tray);
    const done = all.filter(isSeen).length;
    const count = tray.querySelector("[data-tray-count]");
    count.textContent = words(count.dataset.words, done, all.length);
    const differs = all.some((part) => picked(part) === "other");
    tray.classList.toggle("tray-complete", done === all.length && !differs);
    tray.classList.toggle("tray-differs", done === all.length && differs);
  }
  const all = parts(sheet);
  const left = all.filter((part) => !isSeen(part));
  const progress = sheet.querySelector("[data-progress]");
  const next = sheet.querySelector("[data-next]");
  if (!progress) return;
  progress.textContent = words(progress.dataset.words, all.length - left.length, all.length);
  next.textContent = left.length ? next.dataset.words : next.dataset.wordsDone;
  next.href = left.length ? `#${left[0].id}` : "#sign-title";
}

const press = (tray) => {
  if (!tray.classList.contains("tray-complete") || tray.querySelector(".field-wrong")) return;
  const hadFocus = tray.contains(document.activeElement);
  tray.open = false;
  if (hadFocus) tray.querySelector("summary").focus({ preventScroll: true });
};

function setCondition(part, value) {
  const choice = part.querySelector(`[data-condition="${value}"]`);
  if (choice) choice.checked = true;
}

function changed(event) {
  const part = event.target.closest("[data-part]");
  if (!part) return;
  const count = part.querySelector("[data-usual]");
  if (event.target.matches("[data-condition]") && count) {
    if (condition(part) === "missing") count.value = 0;
    else if (count.value === "0") count.value = count.dataset.usual;
  }
  if (event.target === count && count.value === "0") setCondition(part, "missing");
  const gone = picked(part) === "other" && condition(part) === "missing";
  part.querySelector("[data-disc]")?.classList.toggle("disc-missing", gone);
  if (event.target.dataset.pick === "other") part.querySelector(".extras").open = true;
  tally();
  if (event.target.dataset.pick === "all") press(part.closest("[data-tray]"));
}

function step(event) {
  const button = event.target.closest("[data-step]");
  if (!button) return;
  const field = button.parentElement.querySelector("input");
  const number = Number.parseInt(field.value, 10) || 0;
  field.value = Math.min(1000, Math.max(0, number + Number(button.dataset.step)));
  field.dispatchEvent(new Event("change", { bubbles: true }));
}

function show(box, field, kept) {
  for (const old of box.querySelectorAll(".thumb, .choice, input[type=hidden]")) old.remove();
  const picture = Object.assign(new Image(96, 96), { className: "thumb", src: kept.address, alt: field.dataset.alt });
  const key = Object.assign(document.createElement("input"), { type: "hidden", name: field.dataset.keyName, value: kept.key });
  box.prepend(picture, key);
}

async function keep(field) {
  if (sheet.classList.contains("on-phone")) return; // kept on the phone first: phone/photos.js
  const box = field.closest("[data-photo]");
  const word = box.querySelector("[data-photo-word]");
  const file = field.files[0];
  if (!file) return;
  const body = new FormData();
  body.set("photo", file);
  body.set("csrfmiddlewaretoken", sheet.querySelector("[name=csrfmiddlewaretoken]").value);
  word.classList.remove("error");
  word.textContent = sheet.dataset.photoSending;
  try {
    const answer = await fetch(sheet.dataset.photoAddress, { method: "POST", body });
    const said = await answer.json();
    if (field.files[0] !== file) return; // another was chosen meanwhile
    word.textContent = said.error ?? "";
    word.classList.toggle("error", Boolean(said.error));
    field.value = "";
    if (!said.error) show(box, field, said);
  } catch {
    word.textContent = sheet.dataset.photoLater; // the file stays in its field and goes along with the form
  }
}

function openTarget() {
  const target = location.hash.length > 1 && document.getElementById(location.hash.slice(1));
  const tray = target && target.closest("[data-tray]");
  if (!tray) return;
  tray.open = true;
  target.scrollIntoView({ block: "center" });
  target.focus({ preventScroll: true });
}

// Everything anew: when the page opens, and when what a phone kept was put back into it.
function whole() {
  for (const part of parts(sheet)) {
    const gone = picked(part) === "other" && condition(part) === "missing";
    part.querySelector("[data-disc]")?.classList.toggle("disc-missing", gone);
    if (picked(part) === "other") part.querySelector(".extras").open = true;
  }
  tally();
  for (const tray of sheet.querySelectorAll("[data-tray]")) press(tray);
  leave();
}

// Shows only what nobody looked at yet; the part under the thumb stays until the thumb moves on.
function leave() {
  const only = sheet.querySelector("[data-only-left]")?.checked;
  sheet.classList.toggle("shows-left", Boolean(only));
  for (const part of parts(sheet)) part.classList.toggle("part-done", isSeen(part) && !part.contains(document.activeElement));
}

if (sheet) {
  for (const button of sheet.querySelectorAll("[data-step]")) button.hidden = false;
  sheet.addEventListener("change", changed);
  sheet.addEventListener("click", step);
  sheet.addEventListener("click", (event) => {
    if (event.target.matches("[data-next]") && event.target.hash === location.hash) openTarget();
  });
  sheet.addEventListener("change", (event) => {
    if (event.target.matches("[data-photo-field]")) keep(event.target);
  });
  sheet.addEventListener("focusout", (event) => {
    const tray = event.target.closest("[data-tray]");
    if (tray && event.relatedTarget && !tray.contains(event.relatedTarget)) press(tray);
  });
  window.addEventListener("hashchange", openTarget);
  sheet.addEventListener("tally", whole);
  const onlyLeft = sheet.querySelector("[data-only-left]");
  if (onlyLeft) {
    onlyLeft.closest("label").hidden = false;
    onlyLeft.addEventListener("change", leave);
    sheet.addEventListener("focusin", leave);
  }
  whole();
}
