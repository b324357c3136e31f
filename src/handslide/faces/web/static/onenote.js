// One note at a time, heard live: three tones of it, each measured on the server.
//
//   {% from "tuning/onenote.html" import staff, tones with context %}   {{ staff(svg) }} {{ tones() }}
//   {% include "tuning/onenote_texts.html" %}
//   const ear = new NoteEar(byId("tones"), { student, a4Hz });
//   ear.addEventListener("heard", (event) => { const { hz, se_cents } = detailOf(event); ... });
//   await ear.listen({ hz: 233.08 });      ear.next({ hz: 174.61 });      ear.stop();

import { Way, detailOf } from "./liveview.js";
import { texts as textsOf } from "./page.js";
import { Recorder, heardIn, whyNot } from "./recorder.js";
import { fill } from "./words.js";

/**
 * @typedef {{ hz: number, within_cents?: number }} AimedNote
 * @typedef {{ hz: number, se_cents: number }} HeardTone
 * @typedef {{
 *   t: number, hz: number, state: "quiet" | "sounding" | "held" | "before" | "other" | "short" | "unsteady" | "apart",
 *   held: number, tones: HeardTone[], mean: HeardTone | null, wanted: number, text: string,
 * }} NoteMessage
 * @typedef {"off" | "opening" | "listening" | "lost" | "nomic"} EarState
 */

// Events: "tone" (detail: NoteMessage, when one more tone is in), "heard" (detail: HeardTone, the
// mean, when all are in and the note ended), "state" (detail: EarState).
export class NoteEar extends EventTarget {
  /**
   * @param {HTMLElement} el what the macro `tones` made
   * @param {{ student: number, a4Hz: number }} who
   */
  constructor(el, { student, a4Hz }) {
    super();
    this.el = el;
    this.student = student;
    this.a4Hz = a4Hz;
    this.texts = { ...textsOf("recording-texts"), ...textsOf("onenote-texts") };
    this.rings = [...el.querySelectorAll(".tone")];
    this.said = /** @type {HTMLElement} */ (el.querySelector(".tones-said"));
    this.hint = /** @type {HTMLElement} */ (el.querySelector(".tones-hint"));
    this.recorder = new Recorder();
    /** @type {Way<import("./liveview.js").NoteStart> | null} */
    this.way = null;
    /** @type {AimedNote} */
    this.note = { hz: 440 };
    /** @type {HeardTone[]} */
    this.tones = [];
    /** @type {HeardTone | null} */
    this.mean = null;
    this.told = false;
    /** @type {EarState} */
    this.state = "off";
    this.recorder.addEventListener("block", (event) => this.way?.send(heardIn(event).block.buffer));
    this.recorder.addEventListener("lost", () => {
      this.stop();
      this.become("nomic", this.texts["error.lost"]);
    });
    window.addEventListener("pagehide", () => this.stop());
    this.show(null);
  }

  // Says at once where a browser gives no microphone at all.
  check() {
    if (navigator.mediaDevices) return;
    const why = window.isSecureContext ? "error.unsupported" : "error.insecure";
    this.become("nomic", this.texts[why]);
  }

  get listening() {
    return this.state === "listening" || this.state === "opening" || this.state === "lost";
  }

  /**
   * Opens the microphone, and listens for a note.
   * @param {AimedNote} note
   * @returns {Promise<boolean>} whether there is a microphone; if not, why is said
   */
  async listen(note) {
    this.next(note);
    if (this.listening) return true;
    this.become("opening");
    try {
      await this.recorder.open();
    } catch (error) {
      this.become("nomic", whyNot(error, this.texts));
      return false;
    }
    // Stopped before the browser gave the microphone.
    if (this.state !== "opening") {
      this.recorder.close();
      return false;
    }
    this.way = new Way("/one-note", {
      rate_hz: this.recorder.rateHz, student: this.student, a4_hz: this.a4Hz, ...this.note,
    });
    this.way.addEventListener("heard", (event) => this.hear(detailOf(event)));
    this.way.addEventListener("state", (event) => this.wayState(detailOf(event)));
    this.become("listening");
    return true;
  }

  /**
   * The note that is listened for from now on; its tones are counted from none.
   * @param {AimedNote} note
   */
  next(note) {
    this.note = note;
    this.tones = [];
    this.mean = null;
    this.told = false;
    if (this.way) {
      Object.assign(this.way.start, note);
      this.way.ask(note);
    }
    this.show(null);
  }

  // Lets go of the microphone; tones that were heard stay.
  stop() {
    this.way?.end();
    this.way = null;
    this.recorder.close();
    if (this.state !== "off") this.become("off");
    this.show(null);
  }

  /**
   * @param {EarState} state
   * @param {string} said
   */
  become(state, said = "") {
    this.state = state;
    this.el.dataset.state = state;
    this.hint.textContent = said;
    this.dispatchEvent(new CustomEvent("state", { detail: state }));
  }

  /** @param {import("./liveview.js").LiveState} live */
  wayState({ state, said }) {
    if (state === "open") this.become("listening");
    else if (state === "lost") this.become("lost", this.texts.lost);
    else {
      this.stop();
      this.hint.textContent = said || this.texts.over;
    }
  }

  /** @param {NoteMessage} message */
  hear(message) {
    // What was said of the note before is late.
    if (message.hz !== this.note.hz) return;
    // One that is far from those before takes their place.
    const last = message.tones.at(-1)?.hz;
    const more = last !== undefined && last !== this.tones.at(-1)?.hz;
    this.tones = message.tones;
    this.mean = message.mean;
    this.show(message);
    if (more) this.dispatchEvent(new CustomEvent("tone", { detail: message }));
    const all = message.tones.length >= message.wanted && message.mean;
    if (!all || this.told || !["quiet", "short"].includes(message.state)) return;
    this.told = true;
    this.dispatchEvent(new CustomEvent("heard", { detail: message.mean }));
  }

  /** @param {NoteMessage | null} message */
  show(message) {
    const count = this.tones.length;
    this.rings.forEach((ring, k) => {
      ring.classList.toggle("is-heard", k < count);
      const held = k === count && message?.state === "sounding" ? message.held : 0;
      ring.querySelector(".run")?.setAttribute("stroke-dashoffset", String(100 - 100 * held));
    });
    const wanted = this.rings.length;
    const all = count >= wanted;
    const words = all ? this.texts.all : fill(count ? this.texts.some : this.texts.none, { count, wanted });
    // Written only when it changes: a screen reader says each change.
    if (this.said.textContent !== words) this.said.textContent = words;
    const hint = message?.text ?? "";
    if (message && this.state === "listening" && this.hint.textContent !== hint) {
      this.hint.textContent = hint;
    }
  }
}
