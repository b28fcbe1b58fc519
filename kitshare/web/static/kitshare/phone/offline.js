// The page for a place without signal lists the checks that this phone keeps for whoever was last signed in on it.
import * as store from "./store.js";

const list = document.querySelector("[data-kept-pages]");
const TITLE = /<title>([\s\S]*?)<\/title>/;

async function titleOf(answer) {
  const title = TITLE.exec(await answer.text())?.[1] ?? "";
  const text = new DOMParser().parseFromString(title, "text/html").body.textContent;
  return text.split(" · ")[0].trim();
}

async function begin() {
  const now = await store.member();
  if (!now) return;
  const pages = await caches.open(store.PAGES + now);
  for (const request of await pages.keys()) {
    const { pathname } = new URL(request.url);
    if (!pathname.endsWith("/")) continue;
    const link = Object.assign(document.createElement("a"), { href: pathname });
    link.textContent = await titleOf(await pages.match(request, { ignoreVary: true }));
    const item = document.createElement("li");
    item.append(link);
    list.append(item);
  }
  if (list.children.length) list.closest("[hidden]").hidden = false;
}

begin().catch(() => {});
