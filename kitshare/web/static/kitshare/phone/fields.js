// What stands in a sheet, as pairs of a name and a value, and back into it.

// The page's own: they are of the page as it is now, never of an earlier one.
const OF_THE_PAGE = ["csrfmiddlewaretoken", "key", "list_version", "first", "second", "deed"];

export const read = (form) =>
  [...new FormData(form)].filter(([name, value]) => typeof value === "string" && name !== "csrfmiddlewaretoken" && name !== "key");

const grouped = (fields) => {
  const values = new Map();
  for (const [name, value] of fields) values.set(name, [...(values.get(name) ?? []), value]);
  return values;
};

export function write(form, fields) {
  const values = grouped(fields);
  for (const control of form.elements) {
    const { name, type } = control;
    if (!name || OF_THE_PAGE.includes(name) || ["file", "submit", "button"].includes(type)) continue;
    const given = values.get(name);
    if (type === "radio" || type === "checkbox") control.checked = given?.includes(control.value) ?? (type === "radio" && control.value === "");
    else if (given) control.value = given[0];
  }
}

export const prefixOf = (name) => /^(p\d+)-/.exec(name)?.[1];

// What was typed of parts that are not on this page any more, by the prefix of their fields.
export function leftOver(form, fields) {
  const there = new Set([...form.querySelectorAll("[data-part]")].map((part) => part.dataset.prefix));
  const left = new Map();
  for (const [name, value] of fields) {
    const prefix = prefixOf(name);
    if (prefix && !there.has(prefix) && value) left.set(prefix, [...(left.get(prefix) ?? []), [name, value]]);
  }
  return left;
}
