// The desk of a session: whatever is typed becomes an entry that is kept here until the server has
// acknowledged it. Each form of the page is an entry, so that the page also works without this.

import { Rows } from "./caught.js";
import { Line } from "./line.js";
import { fillThemes, made, render, write } from "./page.js";
import { Queue, uuid } from "./queue.js";
import { Sheet } from "./sheet.js";
import { Sound } from "./sound.js";

const LONGEST = 40_000;
const TOO_LONG = "This is too long to be sent. Send it in parts.";

const root = document.getElementById("desk");
const { catch: catchUrl, changes: changesUrl, session, member } = root.dataset;
const queue = new Queue(`${member}.${session}`);
const rows = new Rows();
const sheet = new Sheet(root);
const sound = new Sound(document.getElementById("sound"));
const line = new Line({
  catchUrl, changesUrl, queue, now: Number(root.dataset.now),
  onChanges: (told) => {
    rows.take(told);
    if (told.themes || told.taken || !heard) draw();
  },
  onState: drawSaved,
});
let shown = rows;
let heard = false;

function draw() {
  heard = true;
  shown = rows.with(queue.waiting());
  render(root, shown);
  drawSaved();
  tick();
}

function tick() {
  if (!heard) return;
  const clock = sheet.clock(line.now(), rows.presses, queue.waiting());
  const warning = sheet.show(clock);
  if (!warning) return;
  write(document.getElementById("told"), warning);
  sound.play();
}

function drawSaved() {
  const waiting = queue.waiting().length;
  const refused = queue.refused();
  write(document.getElementById("saved-count"), waiting ? `Not saved yet: ${waiting}.` : "Everything is saved.");
  const loose = queue.loose.size ? " This browser keeps nothing: leave the page open." : "";
  write(document.getElementById("saved-why"), line.why + loose);
  document.getElementById("saved").classList.toggle("waits", waiting > 0 || Boolean(line.why));
  drawRefused(refused);
}

// What the server will never take as it is: shown with its reason until somebody mends it.
function drawRefused(refused) {
  const list = document.getElementById("not-taken");
  list.hidden = !refused.length;
  const signature = refused.map((entry) => entry.key).join();
  if (list.dataset.shown === signature) return;
  list.dataset.shown = signature;
  list.replaceChildren(...refused.map((entry) => {
    const item = document.createElement("li");
    const words = document.createElement("p");
    words.textContent = `Not taken in: ${entry.refused}`;
    const text = document.createElement("p");
    text.textContent = entry.text ?? "";
    item.append(words, text, button("Mend it", () => mend(entry)), " ", button("Drop it", () => forget(entry)));
    return item;
  }));
}

function button(words, work) {
  const made = document.createElement("button");
  made.type = "button";
  made.className = "quiet";
  made.textContent = words;
  made.addEventListener("click", work);
  return made;
}

function forget(entry) {
  queue.drop([entry.key]);
  draw();
}

function mend(entry) {
  const box = root.querySelector(`textarea[data-draft="${entry.kind === "statement" ? `statement-${entry.step}` : "note"}"]`);
  box.value = [box.value, entry.text ?? ""].filter(Boolean).join("\n");
  queue.keepDraft(box.dataset.draft, box.value);
  forget(entry);
  box.focus();
}

// Entries

function enter(fields) {
  const entry = { ...fields, key: fields.key ?? uuid(), at: queue.stamp(line.now()) };
  if ((entry.text ?? "").length > LONGEST) entry.refused = TOO_LONG;
  queue.add(entry);
  return entry;
}

function fieldsOf(form) {
  const { csrfmiddlewaretoken, key, ...fields } = Object.fromEntries(new FormData(form));
  return fields;
}

// Many lines become many entries; a line that begins with # opens a theme, or goes on under it.
function enterLines(form) {
  const fields = fieldsOf(form);
  const lines = fields.text.split(/\r\n|\r|\n/).map((text) => text.trim()).filter(Boolean);
  for (const text of lines) {
    if (fields.kind !== "note" || !text.startsWith("#")) {
      enter({ ...fields, text });
      continue;
    }
    const title = text.replace(/^#+/, "").replace(/\s+/g, " ").trim();
    shown = rows.with(queue.waiting());
    fields.theme = shown.sameTheme(title)?.key ?? enter({ kind: "theme", text: title }).key;
  }
  const box = form.elements.text;
  box.value = "";
  queue.keepDraft(box.dataset.draft, "");
  draw();
  if (fields.kind === "note") form.elements.theme.value = fields.theme;
  box.focus();
}

// A double click is one press; who means two presses takes their time.
const DOUBLE = 500;
const lastPress = new Map();

function isDouble(form) {
  const now = performance.now();
  const before = lastPress.get(form) ?? -Infinity;
  lastPress.set(form, now);
  return now - before < DOUBLE;
}

function submit(form) {
  if (form.elements.kind.value === "press" && isDouble(form)) return;
  if (form.hasAttribute("data-lines")) enterLines(form);
  else {
    const fields = fieldsOf(form);
    const same = fields.kind === "votes" && fields.votes === fields.shown;
    if (!same) enter(fields);
    if (fields.kind !== "press" && fields.kind !== "votes") closeEditor(form);
    draw();
  }
  line.kick();
}

root.addEventListener("submit", (event) => {
  if (!event.target.matches("[data-entry]")) return;
  event.preventDefault();
  submit(event.target);
});

root.addEventListener("change", (event) => {
  const form = event.target.closest("[data-votes]");
  if (form && event.target.validity.valid && event.target.value !== "") submit(form);
});

root.addEventListener("input", (event) => {
  const name = event.target.dataset.draft;
  if (name) queue.keepDraft(name, event.target.value);
});

// Editors

function openEditor(link) {
  const what = link.dataset.change;
  const node = link.closest(`[data-${what}]`);
  const already = node.querySelector(":scope > [data-editor]");
  if (already) return already.querySelector("textarea, input:not([type=hidden])").focus();
  const row = shown[`${what}s`].get(node.dataset[what]);
  // before the first answer of the server its own forms do
  if (!row) return location.assign(link.href);
  const editor = made(`edit-${what}`);
  for (const field of editor.querySelectorAll("[name=row]")) field.value = row.key;
  for (const field of editor.querySelectorAll("[data-with]")) {
    if (field.matches("[data-themes]")) fillThemes(field, shown.themesInOrder());
    field.value = field.dataset.with === "theme" ? shown.theme(row.theme) : row[field.dataset.with];
    if (field.form.elements.was) field.form.elements.was.value = field.value;
  }
  for (const field of editor.querySelectorAll("[data-not-this]")) fillThemes(field, shown.themesInOrder());
  for (const form of editor.querySelectorAll("[data-only-beside]")) form.hidden = !row.beside;
  link.after(editor);
  if (what === "theme") node.querySelector("h3").after(editor);
  return editor.querySelector("textarea, input:not([type=hidden])").focus();
}

function closeEditor(inside) {
  const editor = inside.closest("[data-editor]");
  if (!editor) return;
  const link = editor.parentElement.querySelector("[data-change]");
  editor.remove();
  link?.focus();
}

root.addEventListener("click", (event) => {
  const open = event.target.closest("[data-change]");
  const close = event.target.closest("[data-close]");
  if (open || close) event.preventDefault();
  if (open) openEditor(open);
  if (close) { closeEditor(close); draw(); }
});

// Keys

const KEYS = {
  KeyP: () => root.querySelector("#main-press").click(),
  KeyN: () => pressed("next"),
  KeyB: () => pressed("back"),
  KeyM: () => pressed("add"),
  KeyC: () => root.querySelector("#note-text").focus(),
  KeyS: () => (root.querySelector(`[data-prompt="${inHand()}"] textarea`) ?? root.querySelector("[data-prompt] textarea"))?.focus(),
  KeyV: () => root.querySelector("[data-votes] [name=votes]")?.select(),
};

const inHand = () => root.querySelector("[aria-current=step]")?.dataset.step;
const pressed = (kind) => root.querySelector(`#presses [name=press][value=${kind}]`)?.form.querySelector("button").click();

addEventListener("keydown", (event) => {
  if (event.altKey && !event.ctrlKey && !event.metaKey && KEYS[event.code]) {
    event.preventDefault();
    if (!event.repeat) KEYS[event.code]();
  } else if (event.key === "Enter" && !event.shiftKey && !event.isComposing && event.target.matches("#desk textarea")) {
    event.preventDefault();
    if (!event.repeat) event.target.form.requestSubmit();
  } else if (event.key === "Enter" && event.target.matches("#desk [name=votes]")) {
    event.preventDefault();
    if (event.target.value !== event.target.form.elements.shown.value) event.target.dispatchEvent(new Event("change", { bubbles: true }));
  } else if (event.key === "Escape" && event.target.closest("[data-editor]")) {
    closeEditor(event.target);
    draw();
  }
});

// Another tab typed, sent or dropped something.
addEventListener("storage", (event) => {
  if (event.key?.startsWith(queue.prefix)) { draw(); line.kick(); }
  for (const box of root.querySelectorAll("[data-draft]")) {
    if (event.key === queue.draftPrefix + box.dataset.draft && document.activeElement !== box) box.value = event.newValue ?? "";
  }
});

addEventListener("beforeunload", (event) => { if (queue.loose.size) event.preventDefault(); });

if (root.dataset.writes === "yes") {
  for (const box of root.querySelectorAll("[data-draft]")) if (!box.value) box.value = queue.draft(box.dataset.draft);
  document.getElementById("saved").hidden = false;
  document.getElementById("keys").hidden = false;
  sound.offer();
}
root.classList.add("live");
drawSaved();
line.kick();
queue.restore().then(() => {
  if (heard) draw();
  line.kick();
});
setInterval(tick, 250);
