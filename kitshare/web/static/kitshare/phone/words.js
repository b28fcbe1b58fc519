// The words of the page for what scripts say, so that they are translated with all others.
const said = Object.assign({}, ...[...document.querySelectorAll("[data-phone-words]")].map((box) => ({ ...box.dataset })));

export const words = (name, values = {}) =>
  Object.entries(values).reduce((text, [key, value]) => text.replaceAll(`{${key}}`, value), said[name] ?? "");

export const settings = { token: said.tokenAddress, signIn: said.signInAddress, worker: said.workerAddress };

export const mine = Number(document.body.dataset.member || 0);

const hours = new Intl.DateTimeFormat(document.documentElement.lang || undefined, { hour: "2-digit", minute: "2-digit" });
export const clock = (moment) => {
  const time = new Date(moment);
  return Number.isNaN(time.getTime()) ? String(moment) : hours.format(time);
};

export function element(tag, text = "", facts = {}) {
  const made = Object.assign(document.createElement(tag), facts);
  if (text) made.textContent = text;
  return made;
}
