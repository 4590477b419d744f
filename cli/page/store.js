// What is typed, kept in the browser's own storage on this device. A cell counts as kept when the storage has said that
// it is on the disk and the cell has been read back.

const databaseName = "bagsplit";
let database = null;

function finished(request) {
  return new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
}

function committed(transaction) {
  return new Promise((resolve, reject) => {
    transaction.oncomplete = () => resolve();
    transaction.onabort = () => reject(transaction.error || new Error("given up by the browser"));
  });
}

/// @return empty, or why nothing can be kept here.
export async function openStore() {
  try {
    if (!globalThis.indexedDB) return "this browser has no storage for pages";
    const request = indexedDB.open(databaseName, 1);
    request.onupgradeneeded = () => {
      request.result.createObjectStore("cells");
      request.result.createObjectStore("files");
    };
    database = await finished(request);
    database.onversionchange = () => {
      database.close();
      database = null;
    };
    return "";
  } catch (error) {
    return "the browser does not let this page keep anything (" + error.name + ")";
  }
}

/// Whether pages opened from other files of this device may read what is kept.
export const isShared = () => location.protocol === "file:";

/// Writes all in one go: all are kept or none.  @param entries  [key, value]; no value takes the key out.
/// @throws Error when they are not kept.
export async function keep(entries, store = "cells") {
  if (!database) throw new Error("there is no storage");
  const writing = database.transaction(store, "readwrite", { durability: "strict" });
  for (const [key, value] of entries) {
    if (value === undefined || value === "") writing.objectStore(store).delete(key);
    else writing.objectStore(store).put(value, key);
  }
  await committed(writing);
  const reading = database.transaction(store, "readonly").objectStore(store);
  const back = await Promise.all(entries.map(([key]) => finished(reading.get(key))));
  entries.forEach(([key, value], k) => {
    const expected = value === "" ? undefined : value;
    const same = expected instanceof Uint8Array ? back[k] && back[k].length === expected.length : back[k] === expected;
    if (!same) throw new Error("what was written does not read back: " + key);
  });
}

/// All that is kept, as a Map.
export async function kept(store = "cells") {
  if (!database) return new Map();
  const reading = database.transaction(store, "readonly").objectStore(store);
  const [keys, values] = await Promise.all([finished(reading.getAllKeys()), finished(reading.getAll())]);
  return new Map(keys.map((key, k) => [key, values[k]]));
}

/// Takes all away, the storage itself too.
export async function forgetAll() {
  if (database) database.close();
  database = null;
  await finished(indexedDB.deleteDatabase(databaseName));
}
