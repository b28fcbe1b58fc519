// On every page: the phone learns who is signed in, keeps the checks of this booking, and says what still waits to be sent.
import * as store from "./store.js";
import { NEWS, SEND, sendAll } from "./queue.js";
import { element, mine, settings, words } from "./words.js";

const box = document.querySelector("[data-phone-box]");
const sheet = document.querySelector("[data-sheet]");
const ahead = document.querySelector("[data-keep-sheets]");

async function keepAhead(registration) {
  const addresses = ahead.dataset.keepSheets.split(" ").filter(Boolean);
  const channel = new MessageChannel();
  channel.port1.onmessage = ({ data }) => {
    const all = addresses.every((address) => data.kept.includes(address));
    ahead.textContent = all ? ahead.dataset.ready : ahead.dataset.notReady;
    ahead.hidden = false;
  };
  registration.active.postMessage({ keep: addresses, member: mine }, [channel.port2]);
}

async function register() {
  if (!("serviceWorker" in navigator) || !settings.worker || !mine) return;
  await navigator.serviceWorker.register(settings.worker, { type: "module", updateViaCache: "none" });
  const registration = await navigator.serviceWorker.ready;
  if (ahead) await keepAhead(registration);
  // Only where something waits: with each of these the worker fetches every kept page anew.
  if ((await store.checks()).some((row) => row.state === "waiting")) await registration.sync?.register(SEND).catch(() => {});
}

// On the page of a check that was made otherwise, what was ticked here can be thrown away; nowhere else, and never by itself.
const isOver = (row) => row.address === location.pathname && row.state !== "waiting" && !sheet;

const line = (row) => {
  const item = element("li");
  item.append(element("a", row.title, { href: row.address }), " ", element("span", stateOf(row)));
  if (isOver(row)) {
    const away = element("button", words("throwAway"), { type: "button", className: "button-second" });
    away.addEventListener("click", async () => {
      if (!window.confirm(words("throwAwayAsk"))) return;
      await store.dropCheck(row.key);
      await show();
    });
    item.append(" ", away);
  }
  return item;
};

const stateOf = (row) =>
  ({ waiting: words("waiting"), wrong: words("wrong"), refused: words("refused") })[row.state] ?? words("kept");

async function show(news = {}) {
  const rows = (await store.checks()).filter((row) => row.state !== "received");
  const isHere = (row) => sheet && row.address === location.pathname && row.state !== "waiting";
  const own = rows.filter((row) => row.member === mine && !isHere(row) && row.key !== sheet?.elements.key.value);
  const strange = rows.some((row) => row.member !== mine && row.state !== "draft");
  box.replaceChildren();
  if (own.length) {
    box.append(element("p", words("onThisPhone")), element("ul"));
    box.lastChild.append(...own.map(line));
  }
  if (own.some((row) => row.state === "waiting")) {
    const button = element("button", words("sendNow"), { type: "button", className: "button-second" });
    button.addEventListener("click", () => sendAll(settings, { now: true }));
    box.append(button);
    if (news.state === "sign-in") box.append(" ", element("a", words("signInToSend"), { href: settings.signIn }));
  }
  if (strange) box.append(element("p", words("somebodyElse")));
  box.hidden = !box.childNodes.length;
}

async function begin() {
  if (!(await store.works())) return;
  if (mine) await store.signedIn(mine);
  await show();
  document.addEventListener("kitshare-anew", () => show());
  register().catch(() => {});
  if ("BroadcastChannel" in window) {
    new BroadcastChannel(NEWS).onmessage = ({ data }) => {
      if (!data.photo && data.state !== "sending") show(data);
    };
  }
  if (!mine) return;
  const send = () => sendAll(settings, { now: true }).catch(() => {});
  window.addEventListener("online", send);
  setInterval(() => sendAll(settings).catch(() => {}), 5_000);
  await send();
}

// A page out of the browser's memory may be one of whoever was signed in before.
window.addEventListener("pageshow", async (event) => {
  if (event.persisted && mine && (await store.member().catch(() => mine)) !== mine) location.reload();
});

if (box) begin().catch(() => {});
