// What was typed and is not acknowledged yet. Each entry is a place of its own in the browser's
// store, so that several tabs share one queue and a killed tab leaves it whole.

import { erase, readAll, write } from "./twin.js";

export function uuid() {
  // not crypto.randomUUID: that needs https
  const b = crypto.getRandomValues(new Uint8Array(16));
  b[6] = (b[6] & 0x0f) | 0x40;
  b[8] = (b[8] & 0x3f) | 0x80;
  const hex = [...b].map((n) => n.toString(16).padStart(2, "0")).join("");
  return hex.replace(/^(.{8})(.{4})(.{4})(.{4})(.{12})$/, "$1-$2-$3-$4-$5");
}

export class Queue {
  constructor(name) {
    this.prefix = `desk.${name}.entry.`;
    this.draftPrefix = `desk.${name}.draft.`;
    // where the store is full or closed, entries live as long as the page
    this.loose = new Map();
    this.lastAt = 0;
  }

  // A moment for a new entry: no two of this tab are the same, and later ones are later.
  stamp(now) {
    this.lastAt = Math.max(this.lastAt + 1, Math.floor(now));
    return this.lastAt;
  }

  place(entry) { return `${this.prefix}${String(entry.at).padStart(15, "0")}.${entry.key}`; }

  add(entry) { this.#put(this.place(entry), entry); }

  #put(place, entry) {
    write(place, entry);
    this.#keep(place, entry);
  }

  #keep(place, entry) {
    try {
      localStorage.setItem(place, JSON.stringify(entry));
      this.loose.delete(place);
    } catch {
      this.loose.set(place, entry);
    }
  }

  all() {
    const found = new Map(this.loose);
    for (const place of this.#places(this.prefix)) {
      if (found.has(place)) continue;
      try { found.set(place, JSON.parse(localStorage.getItem(place))); } catch { /* not ours */ }
    }
    return [...found].filter(([, entry]) => entry?.key).sort(([a], [b]) => (a < b ? -1 : 1)).map(([, entry]) => entry);
  }

  // Brings back what only its twin remembers.
  async restore() {
    const here = new Set(this.#places(this.prefix));
    for (const [place, entry] of await readAll(this.prefix)) if (!here.has(place)) this.#keep(place, entry);
  }

  waiting() { return this.all().filter((entry) => !entry.refused); }
  refused() { return this.all().filter((entry) => entry.refused); }

  drop(keys) {
    const gone = new Set(keys);
    for (const entry of this.all()) {
      if (!gone.has(entry.key)) continue;
      erase(this.place(entry));
      this.loose.delete(this.place(entry));
      try { localStorage.removeItem(this.place(entry)); } catch { /* closed */ }
    }
  }

  refuse(whys) {
    for (const entry of this.all()) {
      if (entry.key in whys) this.#put(this.place(entry), { ...entry, refused: whys[entry.key] });
    }
  }

  draft(name) {
    try { return localStorage.getItem(this.draftPrefix + name) ?? ""; } catch { return ""; }
  }

  keepDraft(name, text) {
    try {
      if (text) localStorage.setItem(this.draftPrefix + name, text);
      else localStorage.removeItem(this.draftPrefix + name);
    } catch { /* the text stays in its box */ }
  }

  #places(prefix) {
    try { return Object.keys(localStorage).filter((place) => place.startsWith(prefix)); } catch { return []; }
  }
}
