// Sends what this phone keeps: the photos of a check one by one, then the check. Used by pages and by the service worker.
import * as store from "./store.js";

export const SEND = "kitshare-send";
export const NEWS = "kitshare-news"; // the channel on which pages hear how far a check is
const LONGEST = 300_000; // milliseconds between two tries
const FIRST = 2_000;
const PATIENCE = 120_000; // for one answer

let heard;
const tell = (news) => {
  if (!("BroadcastChannel" in self)) return;
  heard ??= new BroadcastChannel(NEWS);
  heard.postMessage(news);
};

class Later extends Error {
  constructor(seconds = 0) {
    super("Later.");
    this.after = seconds * 1000;
  }
}
class SignIn extends Error {}
class NotTheirs extends Error {}

async function whoSends(settings) {
  const answer = await fetch(settings.token, { credentials: "same-origin", cache: "no-store" });
  if (!answer.ok) throw new Later();
  return answer.json();
}

async function said(answer) {
  try {
    return await answer.json();
  } catch {
    return null;
  }
}

// One request; a token out of date is replaced by the one in the answer, once.
async function post(address, body, who) {
  for (let turn = 0; ; turn += 1) {
    const answer = await fetch(address, {
      method: "POST",
      body: body(),
      credentials: "same-origin",
      headers: { "X-Kitshare-Phone": "1", "X-Kitshare-Member": String(who.member), "X-CSRFToken": who.token },
      signal: AbortSignal.timeout(PATIENCE),
    });
    const words = await said(answer);
    if (answer.status === 403 && words?.token && turn === 0) {
      who.token = words.token;
      continue;
    }
    if (answer.status === 401) throw new SignIn();
    if (answer.status === 409) throw new NotTheirs();
    if (answer.status === 503) throw new Later(Number(answer.headers.get("Retry-After")) || 0);
    const isAnswer = answer.ok || [403, 404, 413, 422].includes(answer.status);
    if (!isAnswer || !words) throw new Later();
    return { status: answer.status, words };
  }
}

// True when nothing of it is left to send. What the server will never take is marked so, with its words.
async function sendPhoto(photo, who, { isKept = true } = {}) {
  const body = () => {
    const form = new FormData();
    form.set("key", photo.key);
    form.set("size", String(photo.data.byteLength));
    form.set("photo", new Blob([photo.data], { type: photo.type }), `${photo.key}.jpg`);
    return form;
  };
  const { status, words } = await post(photo.address, body, who);
  if (status === 200) {
    photo.sent = words.key;
  } else if (words.final === false) {
    throw new Later();
  } else {
    photo.refused = words.error ?? "";
  }
  if (isKept) await store.keepPhoto(photo).catch(() => {}); // sent again it would get the same answer
  tell({ photo: photo.key, sent: photo.sent ?? "", refused: photo.refused ?? "" });
}

async function sendPhotos(key, who) {
  const all = await store.photosOf(key);
  const left = all.filter((photo) => !photo.sent && photo.refused === undefined);
  for (const [place, photo] of left.entries()) {
    tell({ key, state: "sending", photos: { done: place + 1, all: left.length } });
    await sendPhoto(photo, who);
  }
  return all;
}

function bodyOf(row, photos) {
  const sent = new Map(photos.map((photo) => [photo.key, photo.refused === undefined ? photo.sent : ""]));
  const form = new FormData();
  for (const [name, value] of row.fields) {
    if (!name.endsWith("-photo_key")) form.append(name, value);
    else if (sent.get(value) ?? value) form.append(name, sent.get(value) ?? value);
  }
  form.set("key", row.key);
  form.set("deed", row.deed);
  // Signed where no server could say no: it is told when. The first try, with the person still there, says nothing.
  if (row.away || row.tries) form.set("made_at", row.madeAt);
  form.set("sent_at", new Date().toISOString());
  return form;
}

// What the same member ticked on this phone for the same check before it was finished.
async function dropDrafts({ member, address }) {
  const drafts = (await store.checks()).filter((row) => row.member === member && row.address === address && row.state === "draft");
  for (const draft of drafts) await store.dropCheck(draft.key);
}

async function sendCheck(row, who) {
  const photos = await sendPhotos(row.key, who);
  tell({ key: row.key, state: "sending" });
  const { status, words } = await post(row.address, () => bodyOf(row, photos), who);
  row.answer = words;
  row.answeredAt = new Date().toISOString();
  const refused = photos.filter((photo) => photo.refused !== undefined).map((photo) => photo.refused);
  if (status === 200) {
    row.state = "received";
    row.answer.photosRefused = refused;
    row.fields = [];
    await store.keepCheck(row).catch(() => store.dropCheck(row.key)).catch(() => {});
    for (const photo of photos) await store.dropPhoto(photo.key);
    if (row.deed === "finish") await dropDrafts(row);
  } else {
    row.state = words.state === "wrong" ? "wrong" : "refused";
    await store.keepCheck(row).catch(() => {});
  }
  tell({ key: row.key, state: row.state });
}

async function rest(row, after) {
  row.nextTry = Date.now() + after;
  await store.keepCheck(row).catch(() => {});
}

async function wait(row, after) {
  row.tries = (row.tries ?? 0) + 1;
  await rest(row, Math.max(after, Math.min(LONGEST, FIRST * 2 ** Math.min(row.tries, 10))));
  tell({ key: row.key, state: "waiting" });
}

// `now` sends also what would rest a while after a failed try; `held` is what a full phone could not keep.
// How many checks of the member who is signed in still wait to be sent.
async function round(settings, { now = false, held = null } = {}) {
  const kept = (await store.checks()).filter((row) => row.state === "waiting" && row.key !== held?.key);
  // While this round waited for its turn another may have sent what is held: its answer stands in the row.
  const rows = held?.state === "waiting" ? [...kept, held] : kept;
  const due = rows.filter((row) => now || row === held || !(row.nextTry > Date.now()));
  if (!due.length) return rows.length;
  let who;
  try {
    who = await whoSends(settings);
  } catch {
    for (const row of due) await wait(row, 0);
    return rows.length;
  }
  // No try: when its member signs in, the page that follows sends at once.
  for (const row of due.filter((one) => one.member !== who.member)) await rest(row, LONGEST);
  let left = 0;
  for (const row of rows.filter((one) => one.member === who.member)) {
    if (!due.includes(row)) left += 1;
    else if (!(await tryOne(row, who))) left += 1;
  }
  if (!who.member) tell({ state: "sign-in" });
  return left;
}

async function tryOne(row, who) {
  try {
    await sendCheck(row, who);
    return true;
  } catch (error) {
    if (error instanceof SignIn) tell({ state: "sign-in" });
    else if (!(error instanceof NotTheirs)) await wait(row, error instanceof Later ? error.after : 0);
    return error instanceof SignIn || error instanceof NotTheirs;
  }
}

const alone = (deed) => (self.navigator.locks ? self.navigator.locks.request(SEND, deed) : deed());

export const sendAll = (settings, how) => alone(() => round(settings, how));

// The photos of a check that is still being made, so that they are safe long before it is signed.
export const sendPhotosOf = (settings, key, mine) =>
  alone(async () => {
    try {
      const who = await whoSends(settings);
      if (who.member === mine) await sendPhotos(key, who);
      else if (!who.member) tell({ state: "sign-in" });
    } catch {
      // they go along with the check
    } finally {
      tell({ key, state: "draft" });
    }
  });

// A photo that the phone has no room for: its key at the server, or nothing.
export async function sendLoosePhoto(settings, photo, mine) {
  try {
    const who = await whoSends(settings);
    if (who.member !== mine) return "";
    await sendPhoto(photo, who, { isKept: false });
    return photo.sent ?? "";
  } catch {
    return "";
  }
}

// Leave what is ticked with the site, so that somebody else can carry on. Its answer, or null where it cannot be reached.
export async function sendPause(settings, address, key, fields, mine) {
  try {
    const who = await whoSends(settings);
    if (who.member !== mine) return null;
    const photos = await sendPhotos(key, who);
    return await post(address, () => bodyOf({ key, fields, deed: "pause" }, photos), who);
  } catch {
    return null;
  }
}
