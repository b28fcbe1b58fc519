// The sheet of a check on a phone: each tick is kept at once, what was kept comes back, and once signed it is sent.
import * as store from "./store.js";
import { leftOver, read, write } from "./fields.js";
import { Panel } from "./panel.js";
import { stopsOf, wrongParts } from "./parts.js";
import { Photos } from "./photos.js";
import { NEWS, SEND, sendAll, sendPause } from "./queue.js";
import { StopBox } from "./stops.js";
import { mine, settings, words } from "./words.js";
import * as wrong from "./wrong.js";

const form = document.querySelector("[data-sheet]");

class SheetOnPhone {
  constructor() {
    this.row = fresh();
    this.panel = new Panel(form, this);
    this.stopBox = new StopBox(form);
    this.photos = new Photos(form, this);
    this.line = document.querySelector("[data-phone-line]");
    this.saving = null;
    this.again = false;
    this.held = null; // a signed check that a full phone has no room for: it lives as long as this page
  }

  get key() {
    return this.row.key;
  }

  get isDraft() {
    return this.row.state === "draft" || this.row.state === "wrong";
  }

  async begin() {
    form.classList.add("on-phone");
    await this.restore();
    for (const type of ["input", "change"]) form.addEventListener(type, () => this.changed());
    form.addEventListener("submit", (event) => this.submitted(event));
    window.addEventListener("online", () => this.held && this.send());
    if ("BroadcastChannel" in window) new BroadcastChannel(NEWS).onmessage = ({ data }) => this.heard(data);
    // Another page or the worker may have sent it before anybody listened here.
    if (this.row.state === "waiting") await this.heard({ key: this.key, state: this.row.state });
  }

  // What this phone keeps of this very check; what the server sent back filled in goes before.
  async restore() {
    const rows = (await store.checks()).filter((row) => row.member === mine && row.address === location.pathname);
    const newest = rows.sort((one, other) => (one.changedAt < other.changedAt ? -1 : 1)).at(-1);
    if (newest && !isOver(newest)) {
      this.row = newest;
      if (this.isDraft && !isFilledIn()) this.fill();
    } else if (newest) {
      await store.dropCheck(newest.key);
    }
    form.elements.key.value = this.key;
    await this.photos.restore();
    this.tally();
    if (newest && this.isDraft) this.say(words("kept"));
    this.show();
  }

  fill() {
    write(form, this.row.fields);
    for (const photo of form.querySelectorAll("[data-photo] input[type=hidden]")) photo.remove();
    this.panel.showLeftOver(leftOver(form, this.row.fields), this.row.names ?? {});
  }

  tally() {
    form.dispatchEvent(new Event("tally"));
    this.stopBox.show(stopsOf(form));
  }

  say(text) {
    if (this.line.textContent !== text) this.line.textContent = text;
    this.line.hidden = !text;
  }

  show() {
    this.panel.show(this.row);
    form.hidden = !this.isDraft;
    if (this.row.state === "wrong") wrong.show(form, this.row.answer?.errors ?? { "": this.row.answer?.words ?? "" });
  }

  async changed() {
    this.stopBox.show(stopsOf(form));
    if (!this.isDraft) return;
    this.again = true;
    this.saving ??= this.save().finally(() => {
      this.saving = null;
    });
    await this.saving;
  }

  async save() {
    while (this.again) {
      this.again = false;
      const over = leftOver(form, this.row.fields ?? []);
      this.row.fields = [...read(form), ...[...over.values()].flat()];
      this.row.names = { ...this.row.names, ...namesOf() };
      this.row.title = document.title.split(" · ")[0];
      this.row.changedAt = new Date().toISOString();
      if (!(await this.keep())) return;
    }
    this.say(words("kept"));
    navigator.storage?.persist?.().catch(() => {});
  }

  // Whether the phone had room for it.
  async keep() {
    try {
      await store.keepCheck(this.row);
      this.panel.hideFull();
      return true;
    } catch {
      this.say(words("noRoom"));
      this.panel.showFull();
      return false;
    }
  }

  async submitted(event) {
    event.preventDefault();
    event.stopPropagation();
    if (event.submitter?.matches("[data-pause]")) await this.pause();
    else await this.sign(event.submitter?.value || "finish");
  }

  async sign(deed) {
    if (!this.isDraft) return;
    const inSpite = form.elements.in_spite?.checked;
    const errors = { ...wrongParts(form, { allSeen: deed === "finish" && !inSpite }), ...this.unsigned() };
    if (Object.keys(errors).length) {
      wrong.show(form, errors);
      return;
    }
    wrong.clear(form);
    if (deed === "finish" && stopsOf(form).length && !inSpite) {
      this.stopBox.focus();
      return;
    }
    await this.changed();
    await this.saving;
    Object.assign(this.row, { deed, state: "waiting", tries: 0, nextTry: 0, madeAt: new Date().toISOString() });
    this.row.away = !navigator.onLine; // the first try may come after the signal, and is not the person's then
    this.held = (await this.keep()) ? null : this.row;
    this.show();
    this.panel.focus();
    await this.send();
  }

  unsigned() {
    const names = ["signed_name", "taken_name"].filter((name) => form.elements[name]);
    const given = names.map((name) => form.elements[name].value.trim().split(/\s+/).join(" ").toLowerCase());
    const errors = {};
    names.forEach((name, place) => {
      if (!given[place]) errors[name] = words(name === "taken_name" ? "notTaken" : "notSigned");
    });
    if (given.length === 2 && given[0] && given[0] === given[1]) errors.taken_name = words("twoSign");
    if (form.elements.signed_role && !form.elements.signed_role.value) errors.signed_role = words("noRole");
    return errors;
  }

  async send() {
    const registration = await navigator.serviceWorker?.getRegistration();
    await registration?.sync?.register(SEND).catch(() => {});
    await sendAll(settings, { now: true, held: this.held });
  }

  async heard({ key, state, photos }) {
    if (state === "sign-in" && this.row.state === "waiting") this.panel.show(this.row, { signIn: true });
    if (key !== this.key || !state) return;
    if (state === "sending") {
      const text = photos ? words("sendingPhotos", photos) : words("sending");
      if (this.isDraft) this.say(text);
      else this.panel.show(this.row, { sending: text });
      return;
    }
    if (state === "draft") {
      if (this.isDraft && this.row.changedAt) this.say(words("kept"));
      return;
    }
    if (!this.held) this.row = (await store.check(key)) ?? this.row; // a full phone has an older one
    this.show();
    if (this.row.state === "waiting") return;
    this.held = null;
    if (this.row.state !== "received") return;
    this.panel.focus();
    // What is kept of this booking is of before: the return's list goes by what went out.
    navigator.serviceWorker?.controller?.postMessage({ refresh: true, member: mine });
  }

  async pause() {
    await this.changed();
    this.say(words("sending"));
    const answer = await sendPause(settings, form.dataset.pauseAddress, this.key, this.row.fields, mine);
    if (answer?.status !== 200) {
      this.say(answer?.words.error ?? words("pauseLater"));
      return;
    }
    await store.dropCheck(this.key);
    this.row = { ...this.row, state: "paused", answer: answer.words, answeredAt: new Date().toISOString() };
    this.show();
    this.panel.focus();
  }

  // A stopped pickup that still waits need not keep anybody from the next.
  beginAnew() {
    this.row = fresh();
    form.reset();
    form.elements.key.value = this.key;
    this.tally();
    this.show();
    document.dispatchEvent(new Event("kitshare-anew"));
  }

  // A sheet that the site did not take is opened again, as a new one.
  async reopen() {
    const { key, fields } = this.row;
    const photos = await store.photosOf(key);
    this.row = { ...this.row, key: crypto.randomUUID(), state: "draft", fields, answer: undefined };
    await store.keepCheck(this.row);
    for (const photo of photos) await store.keepPhoto({ ...photo, check: this.key });
    await store.dropCheck(key);
    form.elements.key.value = this.key;
    this.fill();
    await this.photos.restore();
    this.tally();
    this.show();
  }
}

const fresh = () => ({ key: crypto.randomUUID(), member: mine, address: location.pathname, state: "draft", tries: 0, fields: [] });

// By the server: from a form that it sent back, or from what somebody left for others to carry on.
const isFilledIn = () => "filledIn" in form.dataset || new URLSearchParams(location.search).has("carry_on");

const namesOf = () =>
  Object.fromEntries([...form.querySelectorAll("[data-part]")].map((part) => [part.dataset.prefix, part.dataset.name]));

// A stopped pickup may be followed by another; everything else that was received is done.
const isOver = (row) => row.state === "received" && (row.answer?.stopped || row.deed === "stop");

async function begin() {
  // What is typed in from paper was signed there: it is an ordinary form.
  if (!form || "paper" in form.dataset || !globalThis.isSecureContext || !(await store.works())) return;
  await new SheetOnPhone().begin();
}

begin();
