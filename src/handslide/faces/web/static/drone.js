// The drone of a page: which note, tuned how, how loud.

import { byId } from "./page.js";
import { Desk, justHz, midiHz } from "./tone.js";

/** @param {string} id */
const field = (id) => /** @type {HTMLInputElement | HTMLSelectElement} */ (byId(id));

export class Drone {
  /**
   * @param {Rig} rig
   * @param {Texts} texts
   */
  constructor(rig, texts) {
    this.rig = rig;
    this.texts = texts;
    /** @type {Desk | null} */
    this.desk = null;
    /** @type {import("./tone.js").Voice | null} */
    this.voice = null;
    for (const id of ["drone-note", "drone-root"]) {
      const list = byId(id);
      for (const { midi, name } of rig.notes) list.append(new Option(name, String(midi)));
    }
    // B♭2 and its like: the second partial of the closed slide is where most players tune.
    const usual = rig.notes.find(({ midi }) => midi === 46) ?? rig.notes[12];
    field("drone-note").value = field("drone-root").value = String(usual?.midi ?? "");
    byId("drone").addEventListener("click", () => this.toggle());
    for (const id of ["drone-note", "drone-root", "drone-tuned"]) {
      byId(id).addEventListener("change", () => this.move());
    }
    byId("drone-volume").addEventListener("input", () => this.desk?.setVolume(this.volume));
  }

  get volume() {
    return Number(field("drone-volume").value) / 100;
  }

  get hz() {
    const midi = Number(field("drone-note").value);
    if (field("drone-tuned").value === "equal") return midiHz(midi, this.rig.a4_hz);
    return justHz(midi, Number(field("drone-root").value), this.rig.a4_hz);
  }

  // Where the page's tones and clicks are made; browsers allow no sound before a press.
  async sound() {
    const desk = (this.desk ??= new Desk(new AudioContext(), this.volume));
    if (desk.context.state === "suspended") await desk.context.resume();
    return desk;
  }

  async toggle() {
    if (this.voice) {
      this.stop();
      return;
    }
    this.voice = (await this.sound()).drone(this.hz);
    this.show();
  }

  move() {
    byId("drone-root-field").hidden = field("drone-tuned").value === "equal";
    if (!this.voice || !this.desk) return;
    this.voice.stop();
    this.voice = this.desk.drone(this.hz);
  }

  stop() {
    this.voice?.stop();
    this.voice = null;
    this.show();
  }

  show() {
    const press = byId("drone");
    press.textContent = this.voice ? this.texts.drone_off : this.texts.drone_on;
    press.setAttribute("aria-pressed", String(Boolean(this.voice)));
  }
}
