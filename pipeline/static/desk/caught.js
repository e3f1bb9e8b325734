// What was caught, as it stands here: what the server told, and on top of it what waits to be sent.

export class Rows {
  constructor() {
    this.themes = new Map();
    this.notes = new Map();
    this.statements = new Map();
    this.presses = new Map();
  }

  take(told) {
    for (const kind of ["themes", "notes", "statements", "presses"]) {
      for (const row of told[kind] ?? []) this[kind].set(row.key, row);
    }
  }

  // The rows as they will be once every entry that waits is taken in.
  with(entries) {
    const rows = new Rows();
    for (const kind of ["themes", "notes", "statements"]) rows[kind] = new Map(this[kind]);
    for (const entry of entries) DEEDS[entry.kind]?.(rows, entry);
    return rows;
  }

  // The key of the theme that `key` leads to, past every merge; "" for none.
  theme(key) {
    const seen = new Set();
    while (key && !seen.has(key)) {
      seen.add(key);
      const theme = this.themes.get(key);
      if (!theme) return "";
      if (!theme.into) return key;
      key = theme.into;
    }
    return "";
  }

  themesInOrder() {
    return [...this.themes.values()].filter((row) => !row.let_go)
      .sort((a, b) => a.position - b.position || inOrder(a, b));
  }

  sameTheme(title) {
    const wanted = title.toLocaleLowerCase();
    return this.themesInOrder().find((row) => row.title.toLocaleLowerCase() === wanted);
  }

  kept(kind) { return [...this[kind].values()].filter((row) => !row.let_go).sort(inOrder); }
}

export function inOrder(a, b) { return a.at - b.at || a.order - b.order; }

const LAST = Number.MAX_SAFE_INTEGER;
const KINDS = { theme: "themes", note: "notes", statement: "statements" };

function change(rows, kind, key, values) {
  const row = rows[kind]?.get(key);
  if (row) rows[kind].set(key, { ...row, ...values, waits: true });
}

// The theme that something is put under; one that was let go is taken back by it.
function under(rows, key) {
  const found = rows.theme(key);
  if (found && rows.themes.get(found).let_go) change(rows, "themes", found, { let_go: false });
  return found;
}

function moveAll(rows, from, to) {
  for (const note of rows.notes.values()) {
    if (rows.theme(note.theme) === from) change(rows, "notes", note.key, { theme: to });
  }
}

const fresh = (entry) => ({ key: entry.key, at: entry.at, order: LAST, let_go: false, waits: true });

const DEEDS = {
  theme(rows, entry) {
    if (rows.themes.has(entry.key)) return;
    const same = rows.sameTheme(entry.text);
    const position = 1 + Math.max(0, ...[...rows.themes.values()].map((row) => row.position));
    rows.themes.set(entry.key, { ...fresh(entry), title: entry.text, position, into: same?.key ?? "", let_go: Boolean(same) });
  },
  note(rows, entry) {
    if (rows.notes.has(entry.key)) return;
    rows.notes.set(entry.key, { ...fresh(entry), text: entry.text, opportunity: "", theme: under(rows, entry.theme), beside: "" });
  },
  statement(rows, entry) {
    if (rows.statements.has(entry.key)) return;
    rows.statements.set(entry.key, { ...fresh(entry), text: entry.text, votes: 0, step: entry.step, beside: "" });
  },
  reword(rows, entry) {
    change(rows, KINDS[entry.what], entry.row, entry.what === "theme" ? { title: entry.text } : { text: entry.text });
  },
  question(rows, entry) { change(rows, "notes", entry.row, { opportunity: entry.text }); },
  move(rows, entry) { if (rows.notes.has(entry.row)) change(rows, "notes", entry.row, { theme: under(rows, entry.theme) }); },
  merge(rows, entry) {
    const into = rows.themes.has(entry.row) ? under(rows, entry.theme) : "";
    if (!into || into === entry.row) return;
    moveAll(rows, entry.row, into);
    change(rows, "themes", entry.row, { let_go: true, into });
  },
  votes(rows, entry) {
    const row = rows.statements.get(entry.row);
    const votes = row && Math.max(0, row.votes + Number(entry.votes) - Number(entry.shown));
    if (row) change(rows, "statements", entry.row, { votes });
  },
  "let-go"(rows, entry) {
    if (entry.what === "theme") moveAll(rows, entry.row, "");
    change(rows, KINDS[entry.what], entry.row, { let_go: true });
  },
  "take-back"(rows, entry) { change(rows, KINDS[entry.what], entry.row, { let_go: false, into: "" }); },
  both(rows, entry) { change(rows, KINDS[entry.what], entry.row, { beside: "" }); },
};
