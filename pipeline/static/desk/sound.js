// A quiet sound, only for who asks for it.

const CHOICE = "desk.sound";

export class Sound {
  constructor(button) {
    this.button = button;
    this.on = false;
    this.context = null;
    try { this.on = localStorage.getItem(CHOICE) === "on"; } catch { /* closed */ }
    button?.addEventListener("click", () => this.#turn(!this.on));
  }

  offer() {
    if (!this.button) return;
    this.button.hidden = false;
    this.#say();
  }

  #turn(on) {
    this.on = on;
    try { localStorage.setItem(CHOICE, on ? "on" : "off"); } catch { /* closed */ }
    this.#say();
    if (on) this.play();
  }

  #say() {
    this.button.textContent = this.on ? "Sound on" : "Sound off";
    this.button.setAttribute("aria-pressed", String(this.on));
  }

  play() {
    // Browsers stay silent until somebody touched the page.
    if (!this.on || !globalThis.AudioContext || navigator.userActivation?.hasBeenActive === false) return;
    this.context ??= new AudioContext();
    this.context.resume();
    const at = this.context.currentTime;
    const tone = new OscillatorNode(this.context, { frequency: 523.25 });
    const volume = new GainNode(this.context, { gain: 0 });
    volume.gain.linearRampToValueAtTime(0.06, at + 0.05);
    volume.gain.linearRampToValueAtTime(0, at + 0.6);
    tone.connect(volume).connect(this.context.destination);
    tone.start(at);
    tone.stop(at + 0.6);
  }
}
