// What all blocks of a hand-out share: one slide, one player, one line of words, at the foot of the
// window. A block takes the dock when it is used; until another does, all keys mean it.

import { choice, check, looks, range } from "./looks.js";
import { recall, remember } from "./kept.js";
import { Motion } from "./motion.js";
import { around, isTyping } from "./page.js";
import { Player } from "./player.js";
import { Slide } from "./slide.js";
import { MODERATE, midiHz } from "./tone.js";
import { fill, make, number } from "./words.js";

const GO_MS = 350; // of the slide to a note that is tapped
const SPEEDS = [40, 120, 5];
const calm = window.matchMedia("(prefers-reduced-motion: reduce)");
const SIGNS = {
  play: '<path class="go" d="M7 4v16l13-8z"/><path class="wait" d="M6 4h4v16H6zM14 4h4v16h-4z"/>',
  loop: '<path d="M17 2l3 3-3 3M20 5H8a5 5 0 0 0-5 5v1M7 22l-3-3 3-3M4 19h12a5 5 0 0 0 5-5v-1"/>',
  more: '<path d="M4 6h9M19 6h1M4 12h1M11 12h9M4 18h9M19 18h1"/><circle cx="16" cy="6" r="2.5"/><circle cx="8" cy="12" r="2.5"/><circle cx="16" cy="18" r="2.5"/>',
  hold: '<path d="M3 12c3-7 6-7 9 0s6 7 9 0"/>',
};

/**
 * What a block is to the dock. `route` is what plays in it; `follow` is told the second and the row
 * that sounds, `playing` whether the player runs, `held` which note is held as a drone; a
 * `recording` that is on plays in place of the player; `sheet` is one of notes that are no part, so
 * that nobody plays it beside others.
 * @typedef {{
 *   el: HTMLElement, route: PlayedRoute | null,
 *   cursor?: (i: number | null) => void,
 *   follow?: (second: number, row: PlayedRow, next: PlayedRow | null) => void,
 *   limit?: (range: NoteRange | null) => void,
 *   release?: () => void, recording?: { on: boolean, toggle: () => void } | null,
 *   playing?: (on: boolean) => void, held?: (midi: number | null) => void, sheet?: boolean,
 * }} Block
 */

export class Dock {
  /**
   * @param {Texts} texts
   * @param {{ horn: SlideHorn }} data
   */
  constructor(texts, { horn }) {
    this.texts = texts;
    this.player = new Player();
    /** @type {Block | null} */
    this.block = null;
    /** @type {RouteNote | null} what is shown */
    this.note = null;
    /** @type {import("./tone.js").Voice | null} */
    this.drone = null;
    /** @type {number | null} the note that is held as a drone */
    this.held = null;
    /** @type {"off" | "first" | "last" | "on"} */
    this.loop = "off";
    this.loopFrom = 0;
    /** @type {Motion | null} */
    this.motion = null;
    /** @type {object | null} the stretch that the motion is of */
    this.moved = null;
    this.looped = false;
    this.el = make("section", { class: "dock", "aria-label": texts.label.replace("{place}", "").replace(/[:\s]+$/, "") });
    this.valves = make("span", { class: "dock-valves", "aria-hidden": "true" });
    this.mark = make("span", { class: "dock-mark", "aria-hidden": "true" });
    this.words = make("p", { class: "dock-words", role: "status" }, texts.tap);
    this.hold = key("hold", texts.drone_here, () => this.turnDrone(), make("span", {}, texts.drone));
    this.hold.setAttribute("aria-keyshortcuts", "D");
    this.hold.setAttribute("aria-pressed", "false");
    this.hold.disabled = true;
    this.playWords = make("span", {}, texts.play);
    this.play = key("play", "", () => this.toggle(), this.playWords);
    this.play.classList.add("dock-play");
    this.play.setAttribute("aria-keyshortcuts", "M Space");
    this.play.setAttribute("aria-pressed", "false");
    this.loopKey = key("loop", "", () => this.turnLoop(), make("span", {}, texts.loop));
    this.loopKey.setAttribute("aria-keyshortcuts", "L");
    this.loopKey.setAttribute("aria-pressed", "false");
    const loudness = ["loud", "quiet", "off"].map((one) => [one, texts[one]]);
    this.solo = choice("solo", texts.solo, loudness, "loud", (one) => {
      this.player.setSolo(/** @type {"loud" | "quiet" | "off"} */ (one));
    });
    this.others = check("others", texts.others, true, (on) => this.player.setOthers(on));
    const [least, most, step] = SPEEDS;
    this.speed = range("speed", texts.speed, [least, most, step, 100], (percent) => {
      this.player.setRate(percent / 100);
      return fill(texts.percent, { n: number(percent) });
    });
    this.own = make("div", { class: "dock-own" }); // what the block itself can be asked
    this.page = make("div", { class: "dock-own" }); // and what the page can
    this.more = make("details", { class: "more" });
    this.choices = make("div", { class: "dock-choices", role: "group" }); // of the note that is shown
    const slide = make("div", { class: "dock-slide" });
    this.el.append(
      make("div", { class: "dock-say" }, this.valves, this.mark, this.words, this.hold),
      this.choices,
      slide,
      this.controls(),
    );
    document.body.append(this.el);
    this.slide = new Slide(slide, horn, texts);
    this.hear();
    new ResizeObserver(() => {
      document.documentElement.style.setProperty("--dock", `${this.el.offsetHeight}px`);
    }).observe(this.el);
  }

  controls() {
    const { texts, player } = this;
    const settings = make("div", { class: "menu" },
      this.solo,
      make("div", { class: "checks" },
        check("count_in", texts.count_in, player.options.countIn, (on) => (player.options.countIn = on)),
        check("metronome", texts.metronome, player.options.metronome, (on) => (player.options.metronome = on)),
        this.others,
      ),
      range("volume", texts.volume, [0, 100, 1, 100 * MODERATE], (percent) => {
        player.setVolume(percent / 100);
        return fill(texts.percent, { n: number(percent) });
      }),
      this.own,
      ...looks(texts),
      this.page,
      make("button", { type: "button", class: "key", onclick: () => window.print() }, texts.print),
      make("p", { class: "hint" }, texts.caution),
    );
    const summary = make("summary", { class: "key", title: texts.settings, "aria-label": texts.settings });
    summary.insertAdjacentHTML("afterbegin", sign("more"));
    this.more.append(summary, settings);
    return make("div", { class: "dock-keys" }, this.play, this.speed, this.loopKey, this.more);
  }

  hear() {
    const { player, texts } = this;
    player.on("state", ({ state, counting }) => {
      const playing = state === "playing";
      this.playWords.textContent = counting
        ? fill(texts.counting, { n: counting })
        : playing ? texts.pause : state === "paused" ? texts.go_on : texts.play;
      this.play.setAttribute("aria-pressed", String(playing));
      this.el.dataset.state = state;
      this.block?.playing?.(playing);
      // While it plays, nobody wants to be told each note.
      this.words.setAttribute("aria-live", playing ? "off" : "polite");
      if (counting === 1) this.show(player.notes.get(player.stretch?.rows[0]?.i ?? -1));
    });
    player.on("cursor", ({ i }) => {
      if (i !== null) this.show(player.notes.get(i));
      this.block?.cursor?.(i);
    });
    player.on("frame", ({ second }) => this.frame(second));
    document.addEventListener("keydown", (event) => this.press(event));
    document.addEventListener("pointerdown", (event) => {
      if (event.target instanceof Node && !this.more.contains(event.target)) this.more.open = false;
    });
    window.addEventListener("pagehide", () => player.state !== "stopped" && player.stop());
  }

  /** @param {number} second */
  frame(second) {
    const { stretch } = this.player;
    if (!stretch?.rows.length) return;
    if (this.moved !== stretch || this.looped !== this.player.options.loop) {
      this.moved = stretch;
      this.looped = this.player.options.loop;
      const again = this.looped ? stretch.to : null;
      this.motion = new Motion(stretch.rows, (i) => this.player.notes.get(i)?.extension_mm ?? null, again);
    }
    const k = stretch.rows.findLastIndex((row) => row.on_s <= second);
    const row = stretch.rows[Math.max(0, k)];
    this.slide.put((this.motion?.at(calm.matches ? row.on_s : second)) ?? 0);
    this.block?.follow?.(second, row, stretch.rows[k + 1] ?? null);
  }

  /**
   * A block takes the dock; what another plays ends.
   * @param {Block} block
   * @param {HTMLElement[]} own what the block itself can be asked, for the settings
   */
  take(block, own = []) {
    if (this.block === block) return;
    if (this.player.state !== "stopped") this.player.stop();
    this.endLoop();
    if (this.held !== null) this.holdDrone(null);
    if (this.block) this.forget();
    this.block = block;
    this.own.replaceChildren(...own);
    const { route } = block;
    if (route) this.player.setRoute(route);
    this.player.setRange(null);
    this.hasOthers(block);
    for (const one of [this.play, this.loopKey, this.solo]) one.hidden = !route;
    if (block.sheet) this.solo.hidden = true;
  }

  // What was shown of a block that another takes the place of.
  forget() {
    this.block?.release?.();
    this.note = null;
    this.hold.disabled = true;
    this.mark.textContent = "";
    this.valves.replaceChildren();
    this.words.textContent = this.texts.tap;
  }

  /**
   * A speed that a block asks for; the slider shows it as nearly as it can.
   * @param {number} rate
   */
  setSpeed(rate) {
    const [input, output] = this.speed.querySelectorAll("input, output");
    const said = fill(this.texts.percent, { n: number(100 * rate) });
    /** @type {HTMLInputElement} */ (input).value = String(100 * rate);
    input.setAttribute("aria-valuetext", said);
    output.textContent = said;
    this.player.setRate(rate);
  }

  /**
   * Whether other parts can be heard; a block that finds some says so.
   * @param {Block} block
   */
  hasOthers({ route }) {
    if (this.block?.route !== route) return;
    this.others.hidden = !route?.others?.length;
    this.player.level();
  }

  /**
   * A note of the block was tapped.
   * @param {RouteNote} note
   */
  point(note) {
    if (this.loop === "first" || this.loop === "last") {
      this.setLoop(note);
      return;
    }
    const { player } = this;
    const playing = player.state === "playing";
    if (playing) player.pause();
    player.setStart(note.i);
    this.show(note, GO_MS);
    if (playing) player.play();
  }

  /**
   * Words, valves and slide of a note.
   * @param {RouteNote | undefined} note
   */
  show(note, ms = 0) {
    if (!note) return;
    this.note = note;
    this.hold.disabled = false;
    this.mark.textContent = note.mark;
    this.words.textContent = fill(note.measure ? this.texts.note : this.texts.placed, {
      name: note.name, measure: note.measure, words: note.words ?? this.texts.nothing,
    });
    this.slide.show(note, { ms });
    this.valves.replaceChildren(...this.slide.pressed(note.valves));
  }

  toggle() {
    const recording = this.block?.recording;
    if (recording?.on) recording.toggle();
    else this.player.toggle();
  }

  turnLoop() {
    if (this.loop !== "off") {
      this.endLoop();
      this.words.textContent = this.texts.loop_off;
      return;
    }
    this.loop = "first";
    this.sayLoop(this.texts.loop_first);
  }

  /** @param {RouteNote} note */
  setLoop(note) {
    if (this.loop === "first") {
      this.loop = "last";
      this.loopFrom = note.i;
      this.show(note, GO_MS);
      this.sayLoop(this.texts.loop_last);
      return;
    }
    const { player } = this;
    const playing = player.state === "playing";
    const range = { from: Math.min(this.loopFrom, note.i), to: Math.max(this.loopFrom, note.i) };
    this.loop = "on";
    player.setRange(range);
    player.options.loop = true;
    this.block?.limit?.(range);
    const ends = [range.from, range.to].flatMap((i) => player.notes.get(i) ?? []);
    const measured = ends.every(({ measure }) => measure);
    const [first, last] = ends.map(({ measure, name }) => (measured ? measure : name));
    this.sayLoop(fill(measured ? this.texts.loop_on : this.texts.loop_notes, { first, last }));
    if (playing) player.play();
  }

  endLoop() {
    if (this.loop === "on") {
      const playing = this.player.state === "playing";
      this.player.options.loop = false;
      this.player.setRange(null);
      if (playing) this.player.play();
    }
    this.loop = "off";
    this.block?.limit?.(null);
    this.sayLoop("");
  }

  /** @param {string} words */
  sayLoop(words) {
    this.el.dataset.loop = this.loop;
    this.loopKey.setAttribute("aria-pressed", String(this.loop !== "off"));
    if (words) this.words.textContent = words;
  }

  // A drone on the note that is shown; again: it ends.
  turnDrone() {
    if (this.drone || this.note) this.holdDrone(this.drone ? null : this.note?.midi ?? null);
  }

  /**
   * Hold a note in place of what is held now; null: none.
   * @param {number | null} midi
   */
  holdDrone(midi) {
    const { texts } = this;
    this.drone?.stop();
    this.drone = null;
    this.held = midi;
    if (midi !== null) {
      const desk = this.player.ready();
      desk.context.resume();
      this.drone = desk.drone(midiHz(midi, this.player.route?.a4_hz), MODERATE);
    }
    const name = this.drone ? texts.drone_end : texts.drone_here;
    this.hold.setAttribute("aria-pressed", String(this.drone !== null));
    this.hold.title = name;
    this.hold.setAttribute("aria-label", name);
    this.block?.held?.(midi);
  }

  /** @param {KeyboardEvent} event */
  press(event) {
    if (event.key === "Escape") {
      if (this.more.open) this.more.open = false;
      else if (this.loop === "first" || this.loop === "last") this.turnLoop();
      return;
    }
    if (event.defaultPrevented || event.ctrlKey || event.metaKey || event.altKey || isTyping(event)) return;
    const space = event.key === " " && !around(event, "button, summary, a, label");
    /** @type {Record<string, () => void>} */
    const keys = {
      m: () => this.toggle(),
      l: () => this.turnLoop(),
      d: () => this.turnDrone(),
    };
    const act = space ? keys.m : keys[event.key.toLowerCase()];
    if (!act || !this.block?.route) return;
    event.preventDefault();
    if (!event.repeat) act();
  }
}

/** @param {keyof typeof SIGNS} name */
const sign = (name) => `<svg class="sign-${name}" viewBox="0 0 24 24" aria-hidden="true">${SIGNS[name]}</svg>`;

/**
 * @param {keyof typeof SIGNS} name
 * @param {string} label empty: the words say it
 * @param {() => void} press
 * @param {...Node} words
 */
export function key(name, label, press, ...words) {
  const named = label ? { "aria-label": label, title: label } : {};
  const button = make("button", { type: "button", class: "key", ...named, onclick: press }, ...words);
  button.insertAdjacentHTML("afterbegin", sign(name));
  return button;
}

/**
 * A choice that the device remembers.
 * @param {string} name
 * @param {string} usual
 */
export const kept = (name, usual) => ({
  now: recall(name) ?? usual,
  /** @param {string} value */
  keep: (value) => remember(name, value),
});
