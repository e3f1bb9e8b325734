// Shows what was caught: fills what the server drew, and adds, moves and takes away what changed.
// What a person is typing in is left alone.

const WAITS = "not saved yet";
const TWO = "Worded anew by two at once; this is the second wording.";

const part = (node, name) => node.querySelector(`[${name}]`);

export function made(name) {
  return document.getElementById(name).content.cloneNode(true).firstElementChild;
}

export function write(node, text) {
  if (node && node.textContent !== text) node.textContent = text;
}

function show(node, shown) {
  if (node && node.hidden === shown) node.hidden = !shown;
}

// Puts the nodes of `rows` into `list`, in their order; a row that is being changed stays.
function place(list, rows, attribute, template, fill) {
  const there = new Map([...list.children].map((node) => [node.getAttribute(attribute), node]));
  let before = list.firstElementChild;
  for (const row of rows) {
    const node = there.get(row.key) ?? made(template);
    node.setAttribute(attribute, row.key);
    there.delete(row.key);
    if (node === before) before = before.nextElementSibling;
    else list.insertBefore(node, before);
    fill(node, row);
  }
  for (const node of there.values()) if (!node.querySelector("[data-editor]")) node.remove();
}

const WORDS = { theme: "the theme", note: "the note", statement: "the statement" };

function name(node, what, text) {
  const link = part(node, "data-change");
  if (link) write(link.querySelector(".unseen"), ` ${WORDS[what]} ${text.slice(0, 60)}`);
}

function fillText(node, what, row) {
  write(part(node, "data-text"), row.text);
  write(part(node, "data-told"), [row.beside && TWO, row.waits && WAITS].filter(Boolean).join(" "));
  node.classList.toggle("waits", Boolean(row.waits));
  name(node, what, row.text);
}

function fillNote(node, row) {
  const question = part(node, "data-question");
  write(question, row.opportunity);
  show(question, Boolean(row.opportunity));
  fillText(node, "note", row);
}

function fillStatement(node, row) {
  fillText(node, "statement", row);
  write(part(node, "data-votes-shown"), String(row.votes));
  const form = part(node, "data-votes");
  if (!form) return;
  const { row: key, shown, votes } = form.elements;
  const untouched = votes.value === shown.value || document.activeElement !== votes;
  key.value = row.key;
  shown.value = String(row.votes);
  if (untouched && votes.value !== shown.value) votes.value = shown.value;
  write(part(form, "data-whose"), ` for ${row.text.slice(0, 60)}`);
}

// The sections of a list that stand under one key each, such as notes under themes.
function grouped(rows, keyOf) {
  const found = new Map();
  for (const row of rows) found.set(keyOf(row), [...(found.get(keyOf(row)) ?? []), row]);
  return found;
}

export function render(root, rows) {
  const themes = rows.themesInOrder();
  const standing = new Set(themes.map((theme) => theme.key));
  const notes = grouped(rows.kept("notes"), (note) => {
    const key = rows.theme(note.theme);
    return standing.has(key) ? key : "";
  });
  const none = { key: "", title: "No theme yet" };
  place(root.querySelector("#themes"), [none, ...themes], "data-theme", "a-theme", (node, theme) => {
    const under = notes.get(theme.key) ?? [];
    show(node, Boolean(theme.key) || under.length > 0 || Boolean(node.querySelector("[data-editor]")));
    if (theme.key) {
      write(part(node, "data-text"), theme.title);
      name(node, "theme", theme.title);
    }
    node.classList.toggle("waits", Boolean(theme.waits));
    write(part(node, "data-told"), theme.waits ? WAITS : "");
    write(part(node, "data-count"), String(under.length));
    place(node.querySelector("ul"), under, "data-note", "a-note", fillNote);
  });
  const statements = grouped(rows.kept("statements"), (row) => row.step);
  for (const prompt of root.querySelectorAll("[data-prompt]")) {
    const given = statements.get(prompt.dataset.prompt) ?? [];
    write(part(prompt, "data-count"), String(given.length));
    place(part(prompt, "data-statements"), given, "data-statement", "a-statement", fillStatement);
  }
  renderGone(root, rows);
  for (const select of root.querySelectorAll("select[data-themes]")) fillThemes(select, themes);
}

function renderGone(root, rows) {
  const gone = [
    ...[...rows.themes.values()].filter((row) => row.let_go && !row.into).map((row) => ({ ...row, what: "theme", text: row.title })),
    ...[...rows.notes.values()].filter((row) => row.let_go).map((row) => ({ ...row, what: "note" })),
    ...[...rows.statements.values()].filter((row) => row.let_go).map((row) => ({ ...row, what: "statement" })),
  ];
  const box = root.querySelector("#gone");
  show(box, gone.length > 0);
  write(part(box, "data-count"), String(gone.length));
  place(box.querySelector("ul"), gone, "data-gone", "a-gone-row", (node, row) => {
    write(part(node, "data-what"), row.what);
    write(part(node, "data-text"), row.text);
    const form = node.querySelector("form");
    if (form) [form.elements.what.value, form.elements.row.value] = [row.what, row.key];
  });
}

export function fillThemes(select, themes) {
  const own = select.hasAttribute("data-not-this") ? select.form.elements.row.value : "";
  const wanted = [["", "no theme yet"], ...themes.filter((t) => t.key !== own).map((t) => [t.key, t.title])];
  const have = [...select.options].map((option) => [option.value, option.text]);
  if (JSON.stringify(wanted) === JSON.stringify(have)) return;
  const chosen = select.value;
  select.replaceChildren(...wanted.map(([value, text]) => new Option(text, value)));
  select.value = wanted.some(([value]) => value === chosen) ? chosen : "";
}
