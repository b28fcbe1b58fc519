// The service worker: it keeps the files of the site, and the check pages of whoever is signed in on this phone.
import { PAGES, forget, member, signedIn } from "./store.js";
import { SEND, sendAll } from "./queue.js";

const FILES = "kitshare-files-";
const KEEP = "X-Kitshare-Keep"; // the server says which pages are of use without signal
const MEMBER = "X-Kitshare-Member"; // and whose they are
const PATIENCE = 4000; // milliseconds for a page that is kept, too
const PICTURE = /(?:src|href|data-picture)="(\/[^"]+?\.(?:jpe?g|png|webp)(?:\?[^"]*)?)"/g;
const MOST_PICTURES = 300;

export function begin(settings) {
  self.addEventListener("install", (event) => event.waitUntil(install(settings)));
  self.addEventListener("activate", (event) => event.waitUntil(activate(settings)));
  self.addEventListener("fetch", (event) => answer(event, settings));
  self.addEventListener("message", (event) => event.waitUntil(asked(event, settings)));
  self.addEventListener("sync", (event) => {
    if (event.tag === SEND) event.waitUntil(sendOrTryAgain(settings));
  });
}

async function sendOrTryAgain(settings) {
  const left = await sendAll(settings, { now: true });
  const now = await member();
  if (now) await refreshed(now, settings).catch(() => {});
  if (left) throw new Error("Something still waits."); // so that the browser asks once more
}

async function install(settings) {
  const files = await caches.open(FILES + settings.version);
  await files.addAll(settings.files.map((address) => new Request(address, { cache: "reload" })));
  // As a stranger sees it: nobody's name is on it.
  await files.put(settings.offline, await fetch(settings.offline, { credentials: "omit", cache: "reload" }));
  await self.skipWaiting();
}

// Pages that were kept name the files of their own day: those go only when every page was fetched anew.
async function activate(settings) {
  await self.clients.claim();
  const now = await member().catch(() => 0);
  if (now && !(await refreshed(now, settings))) return;
  for (const name of await caches.keys()) {
    if (name.startsWith(FILES) && name !== FILES + settings.version) await caches.delete(name);
  }
}

async function refreshed(now, settings) {
  const pages = await caches.open(PAGES + now);
  const addresses = (await pages.keys()).map((request) => new URL(request.url).pathname).filter((path) => path.endsWith("/"));
  const anew = await Promise.all(addresses.map((address) => fetchAndKeep(address, now, settings).catch(() => false)));
  return anew.every(Boolean);
}

function answer(event, settings) {
  const { request } = event;
  const { origin, pathname } = new URL(request.url);
  if (origin !== self.location.origin) return;
  if (request.method === "POST") {
    if (request.mode === "navigate" && pathname === settings.signOut) event.respondWith(signOut(request, settings));
  } else if (request.method !== "GET") {
    return;
  } else if (pathname.startsWith(settings.static)) {
    event.respondWith(file(request));
  } else if (request.mode === "navigate") {
    event.respondWith(page(event, settings));
  } else if (request.destination === "image") {
    event.respondWith(picture(request));
  }
}

async function file(request) {
  return (await caches.match(request, { ignoreVary: true })) ?? fetch(request);
}

async function picture(request) {
  const now = await member().catch(() => 0);
  const kept = now && (await (await caches.open(PAGES + now)).match(request, { ignoreVary: true }));
  return kept || fetch(request);
}

async function signOut(request, settings) {
  try {
    return await fetch(request);
  } catch {
    return withoutSignal(settings);
  } finally {
    await signedIn(0).catch(() => {});
    await forget();
  }
}

const withoutSignal = async (settings) =>
  (await caches.match(settings.offline, { ignoreVary: true })) ?? Response.error();

const tooLate = () => new Promise((_, reject) => setTimeout(reject, PATIENCE, new Error("No answer yet.")));

async function page(event, settings) {
  const now = await member().catch(() => 0);
  const kept = now ? await (await caches.open(PAGES + now)).match(event.request, { ignoreVary: true }) : undefined;
  const fresh = fromNetwork(event, settings);
  try {
    const found = await (kept ? Promise.race([fresh, tooLate()]) : fresh);
    return kept && found.status >= 502 ? kept : found;
  } catch {
    return kept ?? withoutSignal(settings);
  }
}

function fromNetwork(event, settings) {
  const fresh = fetch(event.request).then(async (found) => {
    const whose = Number(found.headers.get(MEMBER) ?? 0);
    if (whose) await signedIn(whose).catch(() => {});
    const { pathname, search } = new URL(event.request.url);
    if (whose && found.headers.get(KEEP) && !search) {
      event.waitUntil(keep(pathname, found.clone(), whose, settings).catch(() => {}));
    }
    return found;
  });
  event.waitUntil(fresh.catch(() => {}));
  return fresh;
}

async function fetchAndKeep(address, now, settings) {
  const found = await fetch(address, { headers: { [KEEP]: "1" }, credentials: "same-origin" });
  return keep(address, found, now, settings);
}

async function keep(address, found, now, settings) {
  const may = found.ok && !found.redirected && found.headers.get(KEEP) === "1";
  if (!may || Number(found.headers.get(MEMBER)) !== now) return false;
  const text = await found.clone().text();
  const pages = await caches.open(PAGES + now);
  await pages.put(address, found);
  // Asked after the page was kept: whoever signed out meanwhile leaves none behind.
  if ((await member()) !== now) {
    await caches.delete(PAGES + now);
    return false;
  }
  const pictures = [...text.matchAll(PICTURE)].map((match) => match[1].replaceAll("&amp;", "&"));
  const theirs = [...new Set(pictures)].filter((one) => !one.startsWith(settings.static)).slice(0, MOST_PICTURES);
  for (const one of theirs) {
    if (!(await pages.match(one, { ignoreVary: true }))) await pages.add(one).catch(() => {});
  }
  return true;
}

async function asked(event, settings) {
  const { keep: addresses = [], refresh = false, member: now = 0 } = event.data ?? {};
  if (!now || now !== (await member())) return;
  if (refresh) await refreshed(now, settings);
  const kept = [];
  for (const address of addresses) {
    if (await fetchAndKeep(address, now, settings).catch(() => false)) kept.push(address);
  }
  event.ports[0]?.postMessage({ kept });
}
