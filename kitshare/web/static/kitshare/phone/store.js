// What a phone keeps: checks and their photos, each row with the member whose it is, and who was last signed in here.
// A row of one member is never shown to another.
const NAME = "kitshare";
export const PAGES = "kitshare-pages-";

// One step for each version that ever was. A step is never changed: a phone may come from any of them.
const STEPS = [
  (base) => {
    base.createObjectStore("facts");
    base.createObjectStore("checks", { keyPath: "key" });
    base.createObjectStore("photos", { keyPath: "key" }).createIndex("check", "check");
  },
];

let opened;

function open() {
  opened ??= new Promise((resolve, reject) => {
    const asked = indexedDB.open(NAME, STEPS.length);
    asked.onupgradeneeded = (event) => {
      for (const step of STEPS.slice(event.oldVersion)) step(asked.result, asked.transaction);
    };
    asked.onsuccess = () => {
      asked.result.onversionchange = () => {
        asked.result.close();
        opened = undefined;
      };
      asked.result.onclose = () => {
        opened = undefined;
      };
      resolve(asked.result);
    };
    asked.onerror = () => reject(asked.error);
  });
  opened.catch(() => {
    opened = undefined;
  });
  return opened;
}

const answered = (asked) =>
  new Promise((resolve, reject) => {
    asked.onsuccess = () => resolve(asked.result);
    asked.onerror = () => reject(asked.error);
  });

async function read(store, ask) {
  const base = await open();
  return answered(ask(base.transaction(store).objectStore(store)));
}

// Done only once it is on the disk: a battery may die a moment later.
async function write(stores, act) {
  const base = await open();
  const deed = base.transaction(stores, "readwrite", { durability: "strict" });
  const done = new Promise((resolve, reject) => {
    deed.oncomplete = resolve;
    deed.onabort = () => reject(deed.error);
  });
  try {
    act(deed);
  } catch (error) {
    deed.abort();
    await done.catch(() => {});
    throw error;
  }
  await done;
}

export async function works() {
  try {
    await open();
    return true;
  } catch {
    return false;
  }
}

export const member = () => read("facts", (store) => store.get("member")).then((found) => found ?? 0);

export async function forget(besides = 0) {
  for (const name of await caches.keys()) {
    if (name.startsWith(PAGES) && name !== PAGES + besides) await caches.delete(name);
  }
}

// Who is signed in on this phone now. Pages that were kept for somebody else are gone before this one sees any.
export async function signedIn(now) {
  if ((await member()) !== now) {
    await forget(now);
    await write(["facts"], (deed) => deed.objectStore("facts").put(now, "member"));
    await forget(now); // what was on its way into the other's pages meanwhile
  }
}

export const checks = () => read("checks", (store) => store.getAll());
export const check = (key) => read("checks", (store) => store.get(key));
export const photosOf = (key) => read("photos", (store) => store.index("check").getAll(key));
export const photo = (key) => read("photos", (store) => store.get(key));
export const keepCheck = (row) => write(["checks"], (deed) => deed.objectStore("checks").put(row));
export const keepPhoto = (row) => write(["photos"], (deed) => deed.objectStore("photos").put(row));
export const dropPhoto = (key) => write(["photos"], (deed) => deed.objectStore("photos").delete(key));

export async function dropCheck(key) {
  const photos = await photosOf(key);
  await write(["checks", "photos"], (deed) => {
    deed.objectStore("checks").delete(key);
    for (const one of photos) deed.objectStore("photos").delete(one.key);
  });
}
