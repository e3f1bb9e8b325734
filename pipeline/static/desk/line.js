// The line to the server: sends what waits, asks what changed, and learns the server's time. One
// request at a time, so that entries arrive in their order; after a failure it waits ever longer.

const AT_ONCE = 100;
const CHARACTERS_AT_ONCE = 400_000;
const PATIENCE = 10_000;
const PAUSE = 1_500;
const PAUSE_HIDDEN = 10_000;
const LONGEST_WAIT = 15_000;
const SAMPLES = 8;
const TROUBLE = "The server is in trouble; trying again.";

class Lost extends Error {}

// The first entries that go together in one request; always at least one.
function batch(entries) {
  let characters = 0;
  return entries.slice(0, AT_ONCE).filter((entry, n) => {
    characters += JSON.stringify(entry).length;
    return n === 0 || characters <= CHARACTERS_AT_ONCE;
  });
}

export class Line {
  constructor({ catchUrl, changesUrl, queue, now, onChanges, onState }) {
    Object.assign(this, { catchUrl, changesUrl, queue, onChanges, onState });
    this.after = 0;
    this.failures = 0;
    this.busy = false;
    this.again = false;
    this.timer = null;
    this.why = "";
    this.samples = [{ took: Infinity, offset: now - Date.now() }];
    addEventListener("online", () => this.kick());
    document.addEventListener("visibilitychange", () => this.kick());
  }

  // The server's time: corrected by the quickest of the last answers.
  now() {
    const best = this.samples.reduce((a, b) => (b.took < a.took ? b : a));
    return Date.now() + best.offset;
  }

  kick() {
    clearTimeout(this.timer);
    if (this.busy) this.again = true;
    else this.#round();
  }

  async #round() {
    this.busy = true;
    this.again = false;
    const entries = batch(this.queue.waiting());
    try {
      if (!(await this.#ask(entries)) && entries.length) throw new Lost(TROUBLE);
      this.failures = 0;
      this.why = "";
    } catch (error) {
      this.failures += 1;
      this.why = error instanceof Lost ? error.message : "No connection; trying again.";
    }
    this.busy = false;
    this.onState();
    const more = !this.failures && (this.again || this.queue.waiting().length);
    const pause = document.hidden ? PAUSE_HIDDEN : PAUSE;
    const wait = this.failures ? Math.min(1000 * 2 ** (this.failures - 1), LONGEST_WAIT) : pause;
    this.timer = setTimeout(() => this.#round(), more ? 0 : wait);
  }

  // Tells how many of the entries are settled: taken in, or refused for good.
  async #ask(entries) {
    const sentAt = Date.now();
    const response = await fetch(entries.length ? this.catchUrl : `${this.changesUrl}?after=${this.after}`, {
      ...(entries.length ? this.#posted(entries) : {}),
      redirect: "manual",
      cache: "no-store",
      signal: AbortSignal.timeout(PATIENCE),
    });
    if (response.type === "opaqueredirect" || response.status === 401) {
      throw new Lost("You are signed out. Sign in again in another tab; nothing here is lost.");
    }
    if ([403, 404].includes(response.status)) {
      throw new Lost("You may no longer write here. Keep this page, and ask an owner of the team.");
    }
    if (!response.ok) throw new Lost(TROUBLE);
    const told = await response.json();
    const gotAt = Date.now();
    this.samples.push({ took: gotAt - sentAt, offset: told.now - (sentAt + gotAt) / 2 });
    this.samples = this.samples.filter((s) => Number.isFinite(s.took)).slice(-SAMPLES);
    if (told.refused) this.queue.refuse(told.refused);
    if (told.taken) this.queue.drop(told.taken);
    this.after = told.changed;
    this.onChanges(told);
    return (told.taken?.length ?? 0) + Object.keys(told.refused ?? {}).length;
  }

  #posted(entries) {
    return {
      method: "POST",
      headers: { "Content-Type": "application/json", "X-CSRFToken": token() },
      body: JSON.stringify({ entries, after: this.after }),
    };
  }
}

// The cookie knows of a sign-in in another tab; the page does not.
function token() {
  // Over TLS its name begins with what binds it to this host.
  const cookie = document.cookie.match(/(?:^|; )(?:__Host-)?csrftoken=([^;]*)/);
  return cookie ? cookie[1] : document.querySelector("[name=csrfmiddlewaretoken]")?.value ?? "";
}
