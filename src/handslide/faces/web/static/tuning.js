// A tuning lesson: one note after the other, heard live; then the slide moves as far as it should.

import { detailOf } from "./liveview.js";
import { NoteEar } from "./onenote.js";
import { around, byId, handed, isAbort, isTyping, texts as textsOf } from "./page.js";
import { complain } from "./shell.js";

const ON_MS = 500; // so long "heard: next" stands before the next note

/**
 * @typedef {{ name: string, part: "note" | "open" | "valve", hz: number }} AskedNote
 * @typedef {{
 *   student: number, a4_hz: number, url: string, on: Record<string, string>, notes: AskedNote[],
 * }} LessonData
 */

class Lesson {
  constructor() {
    /** @type {LessonData} */
    this.data = handed("lesson-data");
    this.texts = textsOf("lesson-texts");
    /** @type {Map<number, import("./onenote.js").HeardTone>} */
    this.heard = new Map();
    this.at = 0;
    this.timer = 0;
    /** @type {AbortController | null} */
    this.asking = null;
    this.notes = document.querySelectorAll("[data-note]");
    this.steps = document.querySelectorAll("[data-step]");
    this.ear = new NoteEar(byId("tones"), { student: this.data.student, a4Hz: this.data.a4_hz });
    this.ear.addEventListener("heard", (event) => this.take(detailOf(event)));
    this.ear.addEventListener("tone", () => this.draw());
    this.ear.addEventListener("state", (event) => this.earState(detailOf(event)));
    byId("ear").hidden = false;
    byId("listen").addEventListener("click", () => this.toggle());
    byId("enough").addEventListener("click", () => this.finish());
    document.getElementById("leave")?.addEventListener("click", () => {
      this.heard.delete(this.at);
      this.forward();
    });
    this.ear.check();
  }

  /** Whether the pair's two notes are both wanted. */
  get pair() {
    return this.data.notes[0].part === "open";
  }

  get whole() {
    return this.pair ? this.heard.size === this.data.notes.length : this.heard.size > 0;
  }

  toggle() {
    if (this.ear.listening) this.ear.stop();
    else this.ear.listen(this.aim);
  }

  get aim() {
    return { hz: this.data.notes[this.at].hz };
  }

  /** @param {import("./onenote.js").EarState} state */
  earState(state) {
    const on = this.ear.listening;
    byId("listen-words").textContent = on ? this.texts.stop : this.texts.listen;
    byId("listen").setAttribute("aria-pressed", String(on));
    if (state !== "nomic") return;
    const instead = document.querySelector("[data-instead]");
    if (instead instanceof HTMLDetailsElement) instead.open = true;
  }

  /** @param {import("./onenote.js").HeardTone} mean */
  take(mean) {
    this.heard.set(this.at, mean);
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.forward(), ON_MS);
  }

  forward() {
    clearTimeout(this.timer);
    if (this.at + 1 < this.data.notes.length) this.go(this.at + 1);
    else if (this.whole) this.finish();
    else this.go(0);
  }

  back() {
    clearTimeout(this.timer);
    if (this.at > 0) this.go(this.at - 1);
  }

  /** @param {number} k */
  go(k) {
    this.at = k;
    this.notes.forEach((note, n) => note.toggleAttribute("hidden", n !== k));
    this.steps.forEach((step, n) => {
      step.className = n === k ? "is-now" : this.heard.has(n) ? "is-done" : n < k ? "is-left" : "";
      if (n === k) step.setAttribute("aria-current", "step");
      else step.removeAttribute("aria-current");
    });
    byId("enough").hidden = !this.whole;
    byId("lesson-said").textContent = this.notes[k].querySelector("h1")?.textContent ?? "";
    this.ear.next(this.aim);
  }

  /**
   * What was heard, as the address of the result says it.
   * @param {Map<number, import("./onenote.js").HeardTone>} heard
   */
  query(heard) {
    const query = new URLSearchParams(this.data.on);
    [...heard.keys()].sort((a, b) => a - b).forEach((k) => {
      const { name, part } = this.data.notes[k];
      const { hz, se_cents } = /** @type {import("./onenote.js").HeardTone} */ (heard.get(k));
      const [text, se] = [hz.toFixed(3), se_cents.toFixed(2)];
      if (part === "note") query.append("heard", `${name}:${text}:${se}`);
      else {
        query.set(`${part}_hz`, text);
        query.set(`${part}_hz_heard`, text);
        query.set(`${part}_se`, se);
      }
    });
    return query;
  }

  // Where it will probably stop, as far as it is known.
  async draw() {
    const { mean } = this.ear;
    if (!mean) return;
    this.asking?.abort();
    this.asking = new AbortController();
    const heard = new Map(this.heard).set(this.at, mean);
    try {
      const answer = await fetch(`${this.data.url}/so-far?${this.query(heard)}`, {
        signal: this.asking.signal,
      });
      if (answer.ok) byId("draw").innerHTML = await answer.text();
    } catch (error) {
      if (!isAbort(error)) complain();
    }
  }

  finish() {
    this.ear.stop();
    location.assign(`${this.data.url}?${this.query(this.heard)}`);
  }
}

const lesson = document.getElementById("lesson") ? new Lesson() : null;

document.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.metaKey || event.altKey || event.repeat) return;
  if (isTyping(event) || document.querySelector("dialog[open]")) return;
  // A key or a link that has the focus is pressed by Space anyway.
  if (event.key === " " && lesson && !around(event, "button, a, summary")) {
    event.preventDefault();
    lesson.toggle();
  } else if (event.key === "ArrowRight") {
    event.preventDefault();
    if (lesson) lesson.forward();
    else press("[data-goes=on]");
  } else if (event.key === "ArrowLeft") {
    event.preventDefault();
    if (lesson) lesson.back();
    else press("[data-goes=back]");
  }
});

/** @param {string} selector */
function press(selector) {
  const link = document.querySelector(selector);
  if (link instanceof HTMLElement) link.click();
}

// The result: the brass goes from where it was to where it should be.
const draw = document.getElementById("draw");
const moved = Number(draw?.dataset.moved ?? 0);
if (draw && moved && !matchMedia("(prefers-reduced-motion: reduce)").matches) {
  for (const brass of draw.querySelectorAll("[data-tuning=brass]")) {
    const goes = brass.getAttribute("transform") ?? "";
    const x = Number(/translate\((-?[\d.]+)/.exec(goes)?.[1] ?? 0);
    const timing = { duration: 600, easing: "cubic-bezier(0.45, 0, 0.55, 1)", delay: 250, fill: /** @type {const} */ ("backwards") };
    brass.animate(
      [{ transform: `translate(${x - moved}px, 0)` }, { transform: `translate(${x}px, 0)` }], timing,
    );
  }
}
