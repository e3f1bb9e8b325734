// A second place for what waits. It is written to the disk at once, where the first one may take
// some seconds; so an entry also survives when the whole browser dies right after the typing. What
// is found here though it was sent is sent again, and counts once.

const STORE = "entries";

const opened = new Promise((resolve) => {
  try {
    const asked = indexedDB.open("desk", 1);
    asked.onupgradeneeded = () => asked.result.createObjectStore(STORE);
    asked.onsuccess = () => resolve(asked.result);
    asked.onerror = () => resolve(null);
  } catch {
    resolve(null);
  }
});

async function store(mode) {
  const db = await opened;
  return db?.transaction(STORE, mode, { durability: "strict" }).objectStore(STORE);
}

// A full or closed store is no reason to stop: the first place is there.
async function quietly(work) {
  try {
    const entries = await store("readwrite");
    if (entries) work(entries);
  } catch { /* not kept twice */ }
}

export const write = (place, entry) => quietly((entries) => entries.put(entry, place));
export const erase = (place) => quietly((entries) => entries.delete(place));

// Returns [place, entry] of everything below a prefix.
export async function readAll(prefix) {
  const entries = await store("readonly");
  if (!entries) return [];
  return new Promise((resolve) => {
    const found = [];
    const asked = entries.openCursor(IDBKeyRange.bound(prefix, `${prefix}\uffff`));
    asked.onerror = () => resolve(found);
    asked.onsuccess = () => {
      const cursor = asked.result;
      if (!cursor) return resolve(found);
      found.push([cursor.key, cursor.value]);
      return cursor.continue();
    };
  });
}
