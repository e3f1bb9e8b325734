// Shows the run: the step in hand, the time left in it and in the hour, what to say, what to shorten.

import { allows, clockAt, hourLeft, onAClock, shorter, slack, stepLeft } from "./clock.js";
import { inOrder } from "./caught.js";
import { made, write } from "./page.js";

const STATES = { ready: "Not started", running: "Running", paused: "Paused", ended: "Ended" };
const MAIN = { ready: ["start", "Start"], running: ["pause", "Pause"], paused: ["resume", "Go on"], ended: ["resume", "Go on"] };
const MINUTE = 60_000;

export class Sheet {
  constructor(root) {
    this.root = root;
    this.lines = [...root.querySelectorAll("[data-step]")];
    this.steps = this.lines.map((line) => Number(line.dataset.minutes));
    this.keys = this.lines.map((line) => line.dataset.step);
    this.booked = Number(root.dataset.booked);
    this.hourWords = root.querySelector("#hour-left span").textContent.replace(/^(left of|past the booked) /, "");
    this.warned = null;
  }

  clock(now, presses, waiting) {
    const known = [...presses.values()].sort(inOrder).map((row) => ({ ...row, step: this.#number(row.step) }));
    const own = waiting.filter((entry) => entry.kind === "press" && !presses.has(entry.key)).map((entry) => ({
      kind: entry.press, at: entry.at, minutes: Number(entry.minutes ?? 0), step: this.#number(entry.step),
      from: ["next", "back"].includes(entry.press) ? this.#number(entry.step) : undefined,
    }));
    return clockAt(now, this.steps, this.booked, [...known, ...own]);
  }

  #number(key) {
    const found = this.keys.indexOf(String(key));
    return found < 0 ? null : found;
  }

  // Returns what is to be said aloud, if anything.
  show(clock) {
    const { root, lines } = this;
    const line = lines[clock.step];
    const number = line ? ` · step ${clock.step + 1} of ${lines.length}` : "";
    write(root.querySelector("#run-state"), STATES[clock.state] + number);
    this.#time("#hour-left", hourLeft(clock), `left of ${this.hourWords}`, `past the booked ${this.hourWords}`);
    this.#buttons(clock);
    root.querySelector("#ended").hidden = clock.state !== "ended";
    if (!line) return "";
    this.#time("#step-left", stepLeft(clock), "left in this step", "over");
    this.#time("#slack", slack(clock), "of slack", "too much ahead");
    this.#shorter(clock);
    this.#agenda(clock);
    this.#inHand(clock, line);
    return this.#warning(clock, line.dataset.title);
  }

  #time(where, span, left, over) {
    const node = this.root.querySelector(where);
    const late = span < 0;
    node.classList.toggle("is-late", late);
    write(node.querySelector("b"), onAClock(span));
    write(node.querySelector("span"), late ? over : left);
  }

  #buttons(clock) {
    for (const form of this.root.querySelectorAll("#presses form")) {
      const button = form.querySelector("button");
      if (button.id === "main-press") {
        const [press, words] = MAIN[clock.state];
        form.elements.press.value = press;
        write(button, words);
      } else if (form.id === "anew") form.hidden = clock.state !== "ended";
      else button.disabled = !allows(clock, form.elements.press.value, clock.step);
    }
    for (const field of this.root.querySelectorAll("input[data-in-hand]")) field.value = this.keys[clock.step] ?? "";
  }

  #inHand(clock, line) {
    const { root, lines } = this;
    write(root.querySelector("#in-hand"), line.dataset.title);
    root.dataset.catches = line.dataset.catches;
    const say = root.querySelector("#say");
    if (say.dataset.of !== line.dataset.step) {
      say.dataset.of = line.dataset.step;
      const words = line.querySelector("[data-say]");
      say.replaceChildren(...(words ? words.cloneNode(true).childNodes : []));
    }
    const next = lines[clock.step + 1];
    const words = next ? `Next: ${next.dataset.title}, ${clock.given[clock.step + 1]} min` : "This is the last step.";
    write(root.querySelector("#ahead"), words);
  }

  #agenda(clock) {
    this.lines.forEach((line, step) => {
      if (step === clock.step) line.setAttribute("aria-current", "step");
      else line.removeAttribute("aria-current");
      write(line.querySelector("[data-given]"), String(clock.given[step]));
      const spent = line.querySelector("[data-spent]");
      spent.hidden = clock.spent[step] <= 0;
      write(spent.querySelector("span"), onAClock(clock.spent[step]));
    });
  }

  #shorter(clock) {
    const box = this.root.querySelector("#shorter");
    const wanted = shorter(clock);
    const signature = JSON.stringify(wanted);
    if (box.dataset.shown === signature) return;
    box.dataset.shown = signature;
    box.hidden = !(wanted.length || (slack(clock) < 0 && ["running", "paused"].includes(clock.state)));
    box.querySelector("ul").replaceChildren(...wanted.map(([step, minutes]) => {
      const item = document.createElement("li");
      item.append(made("a-shorter"));
      const words = item.querySelector("[data-words]");
      words.textContent = `${this.lines[step].dataset.title}: ${minutes} min less`;
      const form = item.querySelector("form");
      if (form) [form.elements.step.value, form.elements.minutes.value] = [this.keys[step], String(-minutes)];
      return item;
    }));
  }

  // Once for each step and length: one minute left, and time up; not what was so on opening.
  #warning(clock, title) {
    if (clock.state !== "running") {
      this.warned ??= "";
      return "";
    }
    const left = stepLeft(clock);
    const what = left > MINUTE ? "" : left > 0 ? `One minute left: ${title}` : `Time is up: ${title}`;
    const mark = `${clock.step}.${clock.given[clock.step]}.${what}`;
    if (mark === this.warned) return "";
    const opening = this.warned === null;
    this.warned = mark;
    return opening ? "" : what;
  }
}
