// A chart in a hand-out: each of its notes can be tapped, heard and looked at in all of its places,
// and Play goes through them from the lowest to the highest.

import { BREAKS } from "./music.js";
import { drawingsIn } from "./packed.js";
import { around } from "./page.js";
import { midiHz } from "./tone.js";
import { fill, make } from "./words.js";

const TEMPO_QPM = 60; // of Play: a note a second
const HEARD_S = 1.6; // how long a note sounds that is tapped
const LARGE = 1.3; // how much larger it is with large type
const SHOWN = "wide"; // the drawing that stands in the page unpacked

/**
 * What handslide.jobs.handout.chart writes; places are best first.
 * @typedef {NotePlace & { mark: string, words: string, key: string }} ChartPlace
 * @typedef {{ midi: number, name: string, places: ChartPlace[] }} ChartNote
 * @typedef {{ a4_hz: number, notes: ChartNote[] }} ChartData
 */

/** @implements {Block} */
class ChartBlock {
  /**
   * @param {HTMLElement} el
   * @param {ChartData} data
   * @param {import("./dock.js").Dock} dock
   */
  constructor(el, data, dock) {
    this.el = el;
    this.dock = dock;
    this.data = data;
    this.route = this.routeOf(data);
    /** @type {number[]} which place of each note is shown */
    this.places = data.notes.map(() => 0);
    /** @type {number | null} */
    this.selected = null;
    /** @type {import("./tone.js").Voice | null} */
    this.voice = null;
    /** @type {string | null} */
    this.width = null;
    this.sheet = true;
    data.notes.forEach((_, i) => this.put(i, 0));
    const label = dock.texts.chart;
    this.score = make("div", { class: "score music chart", tabindex: "0", role: "application", "aria-label": label });
    el.querySelector(".sheet")?.before(this.score);
    this.score.addEventListener("click", (event) => {
      const spot = around(event, ".spot");
      if (spot?.dataset.of) this.tap(spot.dataset.of);
    });
    this.score.addEventListener("keydown", (event) => this.press(event));
    this.score.addEventListener("focus", () => dock.take(this));
    new ResizeObserver(() => this.fit()).observe(this.score);
    document.addEventListener("hs:size", () => this.fit());
    el.classList.add("is-set-up");
    this.fit();
  }

  /**
   * @param {ChartData} data
   * @returns {PlayedRoute}
   */
  routeOf({ a4_hz, notes }) {
    const beat = 60 / TEMPO_QPM;
    const none = { measure: "", mi: 0, el: "", unusual: false, new: false, locked: false, playable: true };
    return {
      a4_hz,
      tempo_qpm: TEMPO_QPM,
      notes: notes.map(({ midi, name, places }, i) => ({ i, midi, name, ...none, ...places[0] })),
      played: notes.map(({ midi }, i) => ({
        i, on_s: i * beat, len_s: beat, slur: false, gliss: false, hz: midiHz(midi, a4_hz), move_s: null,
      })),
      beats: notes.map((_, i) => /** @type {Beat} */ ([i * beat, 1])),
    };
  }

  // The drawing that suits the room.
  async fit() {
    const large = document.documentElement.dataset.size === "large";
    const room = this.score.clientWidth / (large ? LARGE : 1);
    const width = BREAKS.find(([most]) => room < most)?.[1] ?? SHOWN;
    if (!room || width === this.width) return;
    this.width = width;
    /** @type {NodeListOf<SVGSVGElement>} */
    const shown = this.el.querySelectorAll(".sheet > svg");
    const packed = width === SHOWN ? null : await drawingsIn(this.el, width);
    if (width !== this.width) return;
    this.score.dataset.width = width;
    this.score.replaceChildren(...(packed ?? [...shown].map((svg) => svg.cloneNode(true))));
    this.mark();
  }

  /**
   * Which place of a note is shown.
   * @param {number} i
   * @param {number} k
   */
  put(i, k) {
    const { places } = this.data.notes[i];
    const place = places[k];
    const many = places.length > 1;
    const words = many ? fill(this.dock.texts.one_of, { words: place.words, k: k + 1, n: places.length }) : place.words;
    this.places[i] = k;
    Object.assign(this.route.notes[i], place, { words });
  }

  /** @param {string} of that of a note, or of one of its places */
  tap(of) {
    const i = this.data.notes.findIndex(({ midi }) => String(midi) === of.split(":")[0]);
    if (i < 0) return;
    const k = this.data.notes[i].places.findIndex(({ key }) => key === of);
    this.choose(i, k < 0 ? this.places[i] : k);
  }

  /**
   * @param {number} i
   * @param {number} k
   */
  choose(i, k) {
    const { dock } = this;
    dock.take(this);
    this.put(i, k);
    this.selected = i;
    this.mark();
    this.offer(i);
    const silent = dock.player.state === "playing" || dock.loop === "first" || dock.loop === "last";
    dock.point(this.route.notes[i]);
    if (!silent) this.sound(i);
  }

  /** @param {number} i */
  sound(i) {
    this.voice?.stop();
    const desk = this.dock.player.ready();
    desk.context.resume();
    const at = desk.context.currentTime + 0.04;
    this.voice = desk.tone({ hz: this.route.played[i].hz, at, length: HEARD_S, into: desk.own });
  }

  /**
   * Keys for all places of a note that has several.
   * @param {number} i
   */
  offer(i) {
    const { choices, texts } = this.dock;
    const { places } = this.data.notes[i];
    const asked = choices.dataset.i === String(i) && choices.childElementCount === places.length;
    if (!asked) {
      choices.dataset.i = String(i);
      choices.setAttribute("aria-label", texts.places);
      const keys = places.map(({ mark, words }, k) =>
        make("button", { type: "button", class: "key", "aria-label": words, title: words, onclick: () => this.choose(i, k) }, mark),
      );
      choices.replaceChildren(...(keys.length > 1 ? keys : []));
    }
    [...choices.children].forEach((key, k) => key.setAttribute("aria-pressed", String(k === this.places[i])));
  }

  mark() {
    const i = this.selected;
    this.light("is-on", i === null ? null : String(this.data.notes[i].midi));
    this.light("is-here", i === null ? null : this.data.notes[i].places[this.places[i]].key);
  }

  /**
   * @param {string} kind
   * @param {string | null} of
   */
  light(kind, of) {
    /** @type {NodeListOf<SVGElement>} */
    const spots = this.score.querySelectorAll(".spot");
    for (const spot of spots) spot.classList.toggle(kind, spot.dataset.of === of);
  }

  /** @param {number | null} i */
  cursor(i) {
    this.light("is-playing", i === null ? null : String(this.data.notes[i].midi));
    if (i !== null) this.reveal(i);
  }

  /** @param {number} i */
  reveal(i) {
    const spot = this.score.querySelector(`.spot[data-of="${this.data.notes[i].midi}"]`);
    if (!spot) return;
    const { top, bottom } = spot.getBoundingClientRect();
    const free = window.innerHeight - this.dock.el.offsetHeight;
    if (top < 0 || bottom > free) {
      window.scrollBy({ top: top - Math.max(8, (free - (bottom - top)) / 2), behavior: "instant" });
    }
  }

  /** @param {KeyboardEvent} event */
  press(event) {
    if (event.ctrlKey || event.metaKey || event.altKey || event.shiftKey) return;
    const last = this.data.notes.length - 1;
    const now = this.selected ?? -1;
    /** @type {Record<string, number>} */
    const to = {
      ArrowRight: Math.min(last, now + 1), ArrowLeft: Math.max(0, now - 1), Home: 0, End: last,
      Enter: Math.max(0, now), ArrowDown: Math.max(0, now), ArrowUp: Math.max(0, now),
    };
    if (!(event.key in to)) return;
    event.preventDefault();
    const i = to[event.key];
    const step = { ArrowDown: 1, ArrowUp: -1 }[event.key] ?? 0;
    const count = this.data.notes[i].places.length;
    this.choose(i, (this.places[i] + step + count) % count);
    this.reveal(i);
  }

  /** @param {NoteRange | null} range */
  limit(range) {
    const midis = this.data.notes.map(({ midi }) => String(midi));
    const inside = new Set(range ? midis.slice(range.from, range.to + 1) : midis);
    /** @type {NodeListOf<SVGElement>} */
    const spots = this.score.querySelectorAll(".spot");
    for (const spot of spots) spot.classList.toggle("is-out", !inside.has(spot.dataset.of?.split(":")[0] ?? ""));
  }

  release() {
    this.voice?.stop();
    this.selected = null;
    this.mark();
    this.cursor(null);
    this.dock.choices.replaceChildren();
  }
}

/**
 * @typedef {import("./dock.js").Block} Block
 * @param {HTMLElement} el
 * @param {ChartData} data
 * @param {import("./dock.js").Dock} dock
 */
export function setUp(el, data, dock) {
  const block = new ChartBlock(el, data, dock);
  // The first block of a page has the dock from the start.
  if (!dock.block) {
    dock.take(block);
    if (block.route.notes.length) dock.slide.show(block.route.notes[0]);
  }
}
