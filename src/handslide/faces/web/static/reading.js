// What is read from afar: one sign, one number, one word; the slide; the lens. The slide moves at
// most 15 times a second and the number changes at most four times, each by two millimetres or more.

import { byId } from "./page.js";
import { IN_PLACE_MM } from "./slide.js";
import { fill, number } from "./words.js";

const SLIDE_EVERY_MS = 1000 / 15;
const NUMBER_EVERY_MS = 250;
const LEAST_MM = 2;
const KEEP_MS = 400; // how long a note stays when it falls silent

/**
 * What the reading shows: a sign, a number or none, words beside it and a sentence.
 * @typedef {"hit" | "in" | "out" | "quiet" | "other" | "gone" | "wait" | "none"} Sign
 * @typedef {{ sign: Sign, n?: string, unit: string, say: string, mm?: number }} Shown
 */

/** @type {Record<Sign, string>} */
const DRAWN = {
  hit: "hit", in: "in", out: "out", quiet: "hit", other: "other", gone: "gone", wait: "hit",
  none: "hit",
};

// Lets something happen at most every so often; what comes between is done when it is due.
class Slowly {
  /** @param {number} everyMs */
  constructor(everyMs) {
    this.everyMs = everyMs;
    this.last = -Infinity;
    this.timer = 0;
  }

  /** @param {() => void} work */
  do(work) {
    clearTimeout(this.timer);
    const wait = this.last + this.everyMs - performance.now();
    const now = () => {
      this.last = performance.now();
      work();
    };
    if (wait <= 0) now();
    else this.timer = setTimeout(now, wait);
  }

  stop() {
    clearTimeout(this.timer);
  }
}

export class Reading {
  /**
   * @param {HTMLElement} el
   * @param {import("./slide.js").Slide} slide
   * @param {Texts} texts
   */
  constructor(el, slide, texts) {
    this.el = el;
    this.slide = slide;
    this.texts = texts;
    this.sign = el.querySelector("use");
    this.slideSlowly = new Slowly(SLIDE_EVERY_MS);
    this.numberSlowly = new Slowly(NUMBER_EVERY_MS);
    /** @type {Shown | null} */
    this.shown = null;
    this.soundedAt = 0;
    /** @type {number | null} where the slide is drawn */
    this.drawnMm = null;
    this.key = "";
  }

  /**
   * Shows something at once, whatever was heard.
   * @param {Shown} shown
   */
  put(shown) {
    this.numberSlowly.stop();
    this.write(shown);
  }

  /** @param {Shown} shown */
  write(shown) {
    this.shown = shown;
    this.el.dataset.sign = shown.sign;
    this.sign?.setAttribute("href", `#sign-${DRAWN[shown.sign]}`);
    byId("far").textContent = shown.n ?? "";
    this.el.style.setProperty("--chars", String(Math.max(1, shown.n?.length ?? 1)));
    this.el.toggleAttribute("data-long", shown.sign !== "none" && (shown.n?.length ?? 0) > 2);
    byId("far-words").textContent = shown.unit;
    byId("say").textContent = shown.say;
    document.body.dataset.sign = shown.sign;
  }

  /**
   * Shows what is heard, if it differs by enough.
   * @param {Shown} shown
   */
  change(shown) {
    const now = this.shown;
    const same = now && now.sign === shown.sign && now.unit === shown.unit;
    if (same && Math.abs((now.mm ?? 0) - (shown.mm ?? 0)) < LEAST_MM) {
      this.numberSlowly.stop();
      return;
    }
    this.numberSlowly.do(() => this.write(shown));
  }

  /**
   * Where the slide should be from now on, and in the lens.
   * @param {NotePlace & { mark?: string } | null} place
   * @param {string} note
   * @param {NotePlace | null} next
   */
  aim(place, note, next = null) {
    const key = `${place?.mark} ${place?.extension_mm} ${note} ${next?.extension_mm}`;
    if (key === this.key) return;
    this.key = key;
    // The lens stands over its place before the cone is drawn to it.
    const mm = place?.extension_mm ?? null;
    const floor = this.el.parentElement;
    floor?.toggleAttribute("data-nowhere", mm === null);
    if (mm !== null) floor?.style.setProperty("--share", this.slide.shareOf(mm).toFixed(4));
    this.slide.target(place);
    this.slide.next(next);
    const mark = place?.mark ?? (note ? "–" : "");
    byId("lens-mark").textContent = mark;
    byId("lens-mark").toggleAttribute("data-long", mark.length > 2);
    byId("lens-valves").replaceChildren(...this.slide.pressed(place?.valves ?? []));
    const words = mm === null ? this.texts.lens_nowhere : this.texts.lens;
    byId("lens-note").textContent = note ? fill(words, { note }) : "";
  }

  /**
   * @param {HeardMessage} message
   * @param {NotePlace | null} place where the slide should be
   */
  hear(message, place) {
    const { slide_mm: slideMm, hz, part } = message;
    const now = performance.now();
    if (hz === null) {
      if (now - this.soundedAt > KEEP_MS) this.silent();
      return;
    }
    this.soundedAt = now;
    if (part?.state === "turning" && this.followed) return;
    if (part?.state === "other" && this.followed) {
      const say = fill(this.texts.say_other, { note: message.note ?? "" });
      this.change({ sign: "other", unit: this.texts.other, say });
      this.move(null);
      return;
    }
    const target = place?.extension_mm ?? null;
    if (place && target === null) {
      this.change({ sign: "gone", unit: this.texts.no_place, say: this.nowhere(message) });
      this.move(null);
      return;
    }
    if (slideMm === null || target === null || (part?.state === "lost" && this.followed)) {
      this.change({ sign: "gone", unit: this.texts.unsure, say: this.unsureWords(message) });
      this.move(null);
      return;
    }
    this.move(slideMm);
    this.change(this.wordsOf(slideMm - target, message));
  }

  /** @param {HeardMessage} message */
  nowhere({ note }) {
    return note ? fill(this.texts.lens_nowhere, { note }) : "";
  }

  /** Whether a part is followed: then its notes are the measure. */
  followed = false;

  /** @param {HeardMessage} message */
  unsureWords({ part }) {
    return this.followed && part?.state === "lost" ? this.texts.say_unsure : "";
  }

  /**
   * @param {number} off
   * @param {HeardMessage} message
   * @returns {Shown}
   */
  wordsOf(off, { text }) {
    const size = Math.abs(off);
    // What is in place stays so until it is clearly off.
    const edge = this.shown?.sign === "hit" ? IN_PLACE_MM + 1 : IN_PLACE_MM;
    if (size < edge) {
      return { sign: "hit", unit: this.texts.in_place, say: this.texts.say_hit };
    }
    const { say_in, say_out, mm_in, mm_out } = this.texts;
    /** @type {[Sign, string, string]} */
    const [sign, unit, where] = off > 0 ? ["in", mm_in, say_in] : ["out", mm_out, say_out];
    return { sign, n: number(size), mm: size, unit, say: text ? `${where} (${text})` : where };
  }

  silent() {
    this.change({ sign: "quiet", unit: this.texts.no_tone, say: this.texts.say_quiet });
    this.move(null);
  }

  /** @param {number | null} mm */
  move(mm) {
    if (mm === null && this.drawnMm === null) return;
    if (mm !== null && this.drawnMm !== null && Math.abs(mm - this.drawnMm) < LEAST_MM) {
      this.slideSlowly.stop();
      return;
    }
    this.slideSlowly.do(() => {
      this.drawnMm = mm;
      this.slide.now(mm);
    });
  }
}
