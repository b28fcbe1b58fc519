// Photos: made small and upright on the phone, kept there the moment they are taken, and sent one by one.
// Redrawn on a canvas, a photo carries no position, and nothing else that the camera wrote into it.
import * as store from "./store.js";
import { NEWS, sendLoosePhoto, sendPhotosOf } from "./queue.js";
import { mine, settings, words } from "./words.js";

const LONG_SIDE = 1600;
const QUALITY = 0.85;

async function small(file) {
  const picture = await createImageBitmap(file, { imageOrientation: "from-image" });
  const share = Math.min(1, LONG_SIDE / Math.max(picture.width, picture.height));
  const canvas = document.createElement("canvas");
  canvas.width = Math.max(1, Math.round(picture.width * share));
  canvas.height = Math.max(1, Math.round(picture.height * share));
  canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
  picture.close();
  const blob = await new Promise((resolve) => canvas.toBlob(resolve, "image/jpeg", QUALITY));
  return blob.arrayBuffer();
}

const boxOf = (form, prefix) => form.querySelector(`[data-part][data-prefix="${prefix}"] [data-photo]`);

function say(box, text, isWrong = false) {
  const word = box.querySelector("[data-photo-word]");
  word.textContent = text;
  word.classList.toggle("error", isWrong);
}

function take(box) {
  for (const old of box.querySelectorAll(".thumb, .choice, input[type=hidden]")) {
    if (old.src?.startsWith("blob:")) URL.revokeObjectURL(old.src);
    old.remove();
  }
  box.querySelector("[data-photo-away]").hidden = true;
}

function put(box, { key, address }) {
  take(box);
  const field = box.querySelector("[data-photo-field]");
  const picture = Object.assign(new Image(96, 96), { className: "thumb", src: address, alt: field.dataset.alt });
  const hidden = Object.assign(document.createElement("input"), { type: "hidden", name: field.dataset.keyName, value: key });
  box.prepend(picture, hidden);
  box.querySelector("[data-photo-away]").hidden = false;
}

const shown = (photo) => ({ key: photo.key, address: URL.createObjectURL(new Blob([photo.data], { type: photo.type })) });

const stateOf = (photo) => {
  if (photo.refused !== undefined) return photo.refused;
  return photo.sent ? words("photoReceived") : words("kept");
};

// `sheet` gives the key of the check, and is told when something on it changed.
export class Photos {
  constructor(form, sheet) {
    this.form = form;
    this.sheet = sheet;
    form.addEventListener("change", (event) => {
      if (event.target.matches("[data-photo-field]")) this.taken(event.target);
    });
    form.addEventListener("click", (event) => {
      if (event.target.matches("[data-photo-away]")) this.away(event.target.closest("[data-photo]"));
    });
    window.addEventListener("online", () => this.send());
    if ("BroadcastChannel" in window) {
      new BroadcastChannel(NEWS).onmessage = ({ data }) => data.photo && this.heard(data.photo);
    }
  }

  async restore() {
    const photos = await store.photosOf(this.sheet.key);
    for (const photo of photos) {
      const box = boxOf(this.form, photo.field);
      if (!box) continue;
      put(box, shown(photo));
      say(box, stateOf(photo), photo.refused !== undefined);
      box.closest("details").open = true;
    }
    if (photos.some((photo) => !photo.sent)) this.send();
  }

  async taken(field) {
    const box = field.closest("[data-photo]");
    const file = field.files[0];
    if (!file) return;
    say(box, words("photoWorking"));
    let data;
    try {
      data = await small(file);
    } catch {
      field.value = "";
      say(box, words("photoUnreadable"), true);
      return;
    }
    if (field.files[0] !== file) return; // another was chosen meanwhile
    field.value = "";
    const photo = {
      key: crypto.randomUUID(),
      check: this.sheet.key,
      member: mine,
      field: box.closest("[data-part]").dataset.prefix,
      address: this.form.dataset.photoAddress,
      type: "image/jpeg",
      data,
    };
    await this.keep(box, photo);
  }

  async keep(box, photo) {
    const before = box.querySelector("input[type=hidden]")?.value;
    try {
      await store.keepPhoto(photo);
    } catch {
      await this.withoutRoom(box, photo);
      return;
    }
    put(box, shown(photo));
    say(box, words("kept"));
    if (before) await store.dropPhoto(before).catch(() => {});
    await this.sheet.changed();
    this.send();
  }

  // The phone is full: the photo goes at once, or not at all. The check does not wait for it.
  async withoutRoom(box, photo) {
    say(box, words("photoWorking"));
    const sent = await sendLoosePhoto(settings, photo, mine);
    if (!sent) {
      say(box, words("photoNoRoom"), true);
      return;
    }
    put(box, { ...shown(photo), key: sent });
    say(box, words("photoReceived"));
    await this.sheet.changed();
  }

  async away(box) {
    const key = box.querySelector("input[type=hidden]")?.value;
    take(box);
    say(box, words("photoGone"));
    if (key) await store.dropPhoto(key).catch(() => {});
    await this.sheet.changed();
    box.querySelector("[data-photo-field]").focus();
  }

  // All that are only on this phone, so that the rest has room.
  async dropUnsent() {
    for (const photo of await store.photosOf(this.sheet.key)) {
      if (photo.sent) continue;
      await store.dropPhoto(photo.key);
      const box = boxOf(this.form, photo.field);
      if (box) {
        take(box);
        say(box, words("photoGone"));
      }
    }
  }

  send() {
    if (navigator.onLine && this.sheet.isDraft) sendPhotosOf(settings, this.sheet.key, mine);
  }

  async heard(key) {
    const photo = await store.photo(key);
    const box = photo && boxOf(this.form, photo.field);
    if (box) say(box, stateOf(photo), photo.refused !== undefined);
  }
}
