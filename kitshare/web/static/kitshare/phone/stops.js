// A vital or a guard part is not as it must be: the phone says so at once, whether or not there is signal.
import { element } from "./words.js";

export class StopBox {
  constructor(form) {
    this.form = form;
    this.box = form.querySelector("[data-stop-box]");
  }

  show(stops) {
    if (!this.box) return;
    const before = this.box.dataset.shown ?? "";
    const now = stops.map((stop) => stop.words).join(" ");
    if (before === now) return;
    this.box.dataset.shown = now;
    this.box.querySelector("[data-stop-list]").replaceChildren(...stops.map((stop) => this.line(stop)));
    this.box.hidden = !stops.length;
    this.form.classList.toggle("is-stopped", stops.length > 0);
    if (!stops.length) this.form.elements.in_spite.checked = false;
    for (const part of this.form.querySelectorAll("[data-part]")) {
      part.querySelector("[data-part-stops]").hidden = !stops.some((stop) => stop.prefix === part.dataset.prefix);
    }
  }

  line(stop) {
    const item = element("li");
    const why = this.box.dataset[stop.kind];
    item.append(element("a", stop.words, { href: `#id_${stop.prefix}-seen` }), ` ${why}`);
    return item;
  }

  focus() {
    this.box.focus();
    this.box.scrollIntoView({ block: "start" });
  }
}
