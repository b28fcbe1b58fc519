// Above the sheet, in words: how far this check is, and what there is to do about it.
import { clock, element, settings, words } from "./words.js";

const list = (sentences) => {
  const made = element("ul");
  made.append(...sentences.map((sentence) => element("li", sentence)));
  return made;
};

const loud = (title, sentences) => {
  const box = element("div", "", { className: "notice-box care" });
  box.append(element("p", title), list(sentences));
  return box;
};

const isMore = ({ words: text = "" }, title) => text.replace(/[.\s]+$/, "") !== title;

export class Panel {
  constructor(form, sheet) {
    this.form = form;
    this.sheet = sheet;
    this.box = document.querySelector("[data-phone-panel]");
    this.full = document.querySelector("[data-phone-full]");
    this.leftOver = document.querySelector("[data-phone-left-over]");
    this.full.querySelector("button").addEventListener("click", () => this.leavePhotosOut());
  }

  focus() {
    this.box.focus();
  }

  show(row, now = {}) {
    this.box.replaceChildren();
    this.box.hidden = row.state === "draft" || row.state === "wrong";
    if (this.box.hidden) return;
    const title = element("h2", this.title(row, now), { id: "phone-panel-title" });
    this.box.append(title, ...this.words(row, now), this.ways(row, now));
  }

  title(row, now) {
    if (now.sending) return now.sending;
    if (row.state === "received") return words("received", { time: clock(row.answer?.at ?? row.answeredAt) });
    if (row.state === "paused") return words("paused", { time: clock(row.answer?.at ?? row.answeredAt) });
    if (this.sheet.held) return words("noRoom");
    return words(row.state === "refused" ? "refused" : "kept");
  }

  words(row, now) {
    const answer = row.answer ?? {};
    const said = [];
    if (row.state === "waiting") said.push(element("p", words(now.signIn ? "waitsForSignIn" : "waitsForSignal")));
    else if (row.state === "received") said.push(element("p", this.done(row)), element("p", isMore(answer, this.title(row, now)) ? answer.words : ""));
    else said.push(element("p", answer.words ?? answer.error ?? ""));
    if (answer.in_spite?.length) said.push(loud(words("inSpite"), answer.in_spite));
    if (answer.differences?.length) said.push(loud(words("differences"), answer.differences));
    if (answer.photosRefused?.length) said.push(loud(words("photosRefused"), answer.photosRefused));
    return said.filter((one) => one.textContent);
  }

  // What it means that the check arrived, in the words of the handover.
  done(row) {
    if (row.answer?.state === "kept" || row.answer?.in_spite?.length) return "";
    if (row.deed === "stop") return words("doneStop");
    const { kind } = this.form.dataset;
    return words(`done${kind[0].toUpperCase()}${kind.slice(1)}`);
  }

  ways(row, now) {
    const deeds = element("div", "", { className: "deeds" });
    if (row.state === "waiting" && now.signIn) deeds.append(element("a", words("signInToSend"), { href: settings.signIn, className: "button" }));
    if (row.state === "waiting" && !now.sending) {
      const send = element("button", words("sendNow"), { type: "button" });
      send.addEventListener("click", () => this.sheet.send());
      deeds.append(send);
    }
    if (row.state === "waiting" && row.deed === "stop") {
      const anew = element("button", words("beginAnew"), { type: "button", className: "button-second" });
      anew.addEventListener("click", () => this.sheet.beginAnew());
      deeds.append(anew);
    }
    if (row.state === "refused") {
      const again = element("button", words("openAgain"), { type: "button", className: "button-second" });
      again.addEventListener("click", () => this.sheet.reopen());
      deeds.append(again);
    }
    const { address } = row.answer ?? {};
    if (address) deeds.append(element("a", words("lookAtIt"), { href: address, className: "button" }));
    const back = this.form.querySelector(".sign .deeds a");
    if (back) deeds.append(back.cloneNode(true));
    return deeds;
  }

  showFull() {
    this.full.hidden = false;
  }

  hideFull() {
    this.full.hidden = true;
  }

  async leavePhotosOut() {
    if (!window.confirm(this.full.dataset.ask)) return;
    await this.sheet.photos.dropUnsent();
    await this.sheet.changed();
  }

  // By part: what was typed of it on a list that had it.
  showLeftOver(left, names) {
    this.leftOver.hidden = !left.size;
    const sentences = [...left].map(([prefix, fields]) => {
      const values = fields.filter(([name]) => !name.endsWith("-photo_key") && !name.endsWith("-seen")).map(([, value]) => value);
      return [names[prefix] ?? prefix, values.join(", ")].filter(Boolean).join(": ");
    });
    this.leftOver.querySelector("ul").replaceWith(list(sentences));
  }
}
