// What is wrong with a sheet: on top with ways to each field, and beside the field in the same words.
import { element, words } from "./words.js";

const targetOf = (form, name) =>
  document.getElementById(`id_${name}`) ?? document.getElementById(`id_${name}_0`) ?? [form.elements[name]].flat()[0];

export function clear(form) {
  for (const old of document.querySelectorAll("[data-phone-error]")) old.remove();
  document.querySelector(".error-summary")?.remove();
  for (const part of form.querySelectorAll(".field-wrong")) {
    part.classList.remove("field-wrong");
    part.querySelector(":scope > .error")?.remove();
    part.removeAttribute("aria-describedby");
  }
}

function beside(form, name, text) {
  const target = targetOf(form, name);
  const box = target?.closest?.("[data-part], .field");
  if (!box) return;
  const id = `wrong-${name}`;
  const said = element("p", text, { className: "error", id });
  said.dataset.phoneError = "";
  said.prepend(element("span", `${words("error")} `, { className: "hidden-word" }));
  const head = box.querySelector(":scope > legend, :scope > label");
  if (head) head.after(said);
  else box.prepend(said);
  box.classList.add("field-wrong");
  (box.matches("fieldset") ? box : target).setAttribute("aria-describedby", id);
}

// `errors` by the name of the field; "" is the sheet as a whole.
export function show(form, errors) {
  clear(form);
  const summary = element("section", "", { className: "error-summary", tabIndex: -1 });
  summary.dataset.phoneError = "";
  summary.setAttribute("role", "alert");
  summary.append(element("h2", words("problem")), element("ul"));
  for (const [name, text] of Object.entries(errors)) {
    const target = name && targetOf(form, name);
    const item = element("li");
    item.append(target?.id ? element("a", text, { href: `#${target.id}` }) : text);
    summary.lastChild.append(item);
    if (target) beside(form, name, text);
  }
  form.before(summary);
  summary.focus();
}
