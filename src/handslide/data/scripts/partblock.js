// A part in a hand-out: its music, each note of which can be tapped, and what the player plays.

import { BlockMusic } from "./blockmusic.js";
import { key, kept } from "./dock.js";
import { check, choice } from "./looks.js";
import { textIn } from "./packed.js";
import { staysOf } from "./slidepath.js";
import { justHz, midiHz } from "./tone.js";
import { fill, make } from "./words.js";

const LARGE = 1.3; // how much larger music is with large type
const SMALL_PX = 700; // in a window narrower than this the music goes by as one line at first
const [SLURRED, GLIDING] = [1, 2];

/**
 * What handslide.jobs.handout.part writes.
 * @typedef {[ordinal: number, mi: number, midi: number, place: number, unusual: number]} NoteRow
 * @typedef {[
 *   i: number, on_s: number, len_s: number, sounds_s: number, move_s: number | null, bits: number,
 *   corners?: number[], stronger_db?: number,
 * ]} Played
 * @typedef {{
 *   a4_hz: number, tempo_qpm: number, length_s: number, notes: NoteRow[],
 *   names: Record<string, string>, measures: Record<string, string>,
 *   places: (NotePlace & { mark: string })[], played: Played[], beats: Beat[],
 *   drone?: { midi: number, name: string }, paired?: boolean,
 * }} PartData
 */

/**
 * @param {PartData} data
 * @returns {PlayedRoute}
 */
export function routeOf(data) {
  const none = { valves: [], partial: null, position: null, extension_mm: null, words: null, mark: "×" };
  const notes = data.notes.map(([ordinal, mi, midi, place, unusual], i) => ({
    i, mi, midi, el: `hs-n${ordinal}`, measure: data.measures[mi], name: data.names[midi],
    unusual: Boolean(unusual), new: false, locked: false, playable: place >= 0,
    ...(data.places[place] ?? none),
  }));
  const played = data.played.map(([i, on_s, len_s, sounds_s, move_s, bits, corners, stronger_db = 0]) => ({
    i, on_s, len_s, sounds_s, move_s,
    slur: Boolean(bits & SLURRED), gliss: Boolean(bits & GLIDING),
    // What is played over a drone is in tune with it.
    hz: data.drone ? justHz(notes[i].midi, data.drone.midi, data.a4_hz) : midiHz(notes[i].midi, data.a4_hz),
    dynamics: corners ? { corners, stronger_db } : null,
  }));
  const { a4_hz, tempo_qpm, beats } = data;
  return { a4_hz, tempo_qpm, notes, played, beats };
}

/**
 * The notes of the other parts, in order.
 * @param {{ timbre: string, rows: [number, number, number, number][] }[]} parts
 */
const othersOf = (parts) =>
  parts
    .flatMap(({ timbre, rows }) =>
      rows.map(([midi, on_s, long_s, db]) => /** @type {OtherRow} */ ([midi, on_s, long_s, db, timbre])),
    )
    .sort((a, b) => a[1] - b[1]);

/** @type {PartBlock[]} */
const all = [];

/**
 * What each part of the page can be asked, once for all of them.
 * @type {{
 *   layout: "lines" | "line", path: boolean, alone: boolean,
 *   layouts: HTMLElement, paths: HTMLElement, staves: HTMLElement,
 * } | null}
 */
let asked = null;

/** @param {Texts} texts */
function wishes(texts) {
  if (asked) return asked;
  const layout = kept("layout", Math.min(window.innerWidth, window.innerHeight) < SMALL_PX ? "line" : "lines");
  const path = kept("path", "yes");
  const shown = kept("staves", "both");
  const layouts = choice("layout", texts.layout, [["lines", texts.lines], ["line", texts.line]], layout.now, (now) => {
    layout.keep(now);
    for (const one of all) one.music.show_as(now === "line" ? "line" : "lines");
  });
  const paths = check("path", texts.path, path.now === "yes", (on) => {
    path.keep(on ? "yes" : "no");
    for (const one of all.filter(({ pathed }) => pathed)) {
      one.pathOn = on;
      one.setPath();
      one.music.fit();
    }
  });
  const staves = choice("staves", texts.staves, [["both", texts.both], ["own", texts.own]], shown.now, (now) => {
    shown.keep(now);
    for (const one of all.filter(({ paired }) => paired)) one.showAlone(now === "own");
  });
  asked = {
    layout: layout.now === "line" ? "line" : "lines", path: path.now === "yes", alone: shown.now === "own",
    layouts, paths, staves,
  };
  return asked;
}

/** @implements {Block} */
export class PartBlock {
  /**
   * @param {HTMLElement} el
   * @param {PartData} data
   * @param {import("./dock.js").Dock} dock
   * @param {{ path?: boolean, makeMusic?: (score: HTMLElement, pick: (i: number) => void) => BlockMusic }} [how]
   *   `path`: whether the slide's path may stand under the staff
   */
  constructor(el, data, dock, { path: pathed = true, makeMusic } = {}) {
    const { texts } = dock;
    this.el = el;
    this.dock = dock;
    this.route = routeOf(data);
    /** @type {number | null} */
    this.selected = null;
    const score = make("div", { class: "score music", tabindex: "0", role: "application", "aria-label": texts.music });
    el.querySelector(".sheet")?.before(score);
    /** @type {(i: number) => void} */
    const pick = (i) => this.tap(i);
    this.music = makeMusic ? makeMusic(score, pick) : new BlockMusic(score, el, pick);
    this.music.free = () => ({ top: 8, bottom: window.innerHeight - dock.el.offsetHeight });
    const { layout, path, alone, layouts, paths, staves } = wishes(texts);
    this.pathed = pathed;
    this.pathOn = path;
    this.paired = Boolean(data.paired);
    this.own = [layouts, ...(this.paired ? [staves] : []), ...(pathed ? [paths] : [])];
    all.push(this);
    score.addEventListener("keydown", (event) => this.press(event));
    score.addEventListener("focus", () => this.take());
    this.music.setNotes(this.route.notes);
    this.music.alone = this.paired && alone;
    if (pathed) this.setPath();
    const resize = () => this.music.setZoom(document.documentElement.dataset.size === "large" ? LARGE : 1);
    document.addEventListener("hs:size", resize);
    resize();
    this.takeOthers();
    this.addKeys(data);
    el.classList.add("is-set-up");
    this.ready = this.music.show_as(layout);
  }

  /**
   * Where there are several blocks each has a key to play it; and one for its drone.
   * @param {PartData} data
   */
  addKeys({ drone }) {
    const { el, dock } = this;
    const { texts } = dock;
    if (document.querySelectorAll(".block").length > 1) {
      const head = el.querySelector(".block-head") ?? make("div", { class: "block-head" });
      if (!head.parentElement) el.prepend(head);
      const title = (head.querySelector("h2, h3") ?? el.previousElementSibling?.querySelector("h2"))?.textContent ?? "";
      this.names = [fill(texts.play_of, { title }), fill(texts.pause_of, { title })];
      this.playKey = key("play", this.names[0], () => this.toggle());
      this.playKey.classList.add("block-play");
      head.prepend(this.playKey);
    }
    if (drone) {
      const held = () => {
        this.take();
        dock.holdDrone(dock.held === drone.midi ? null : drone.midi);
      };
      this.droneKey = key("hold", "", held, make("span", {}, fill(texts.drone_of, { name: drone.name })));
      this.droneMidi = drone.midi;
      el.querySelector(".score")?.before(make("div", { class: "block-keys" }, this.droneKey));
    }
    this.held(null);
    this.playing(false);
    /** @type {NodeListOf<HTMLElement>} */
    const rates = el.querySelectorAll("[data-rate]");
    for (const one of rates) one.addEventListener("click", () => this.playAt(Number(one.dataset.rate)));
  }

  toggle() {
    this.take();
    this.dock.player.toggle();
  }

  /** @param {number} rate */
  playAt(rate) {
    this.take();
    this.dock.setSpeed(rate);
    if (this.dock.player.state !== "playing") this.dock.player.play();
  }

  take() {
    this.dock.take(this, this.own);
    this.askPath();
    this.el.classList.add("is-taken");
  }

  /** @param {boolean} on */
  playing(on) {
    this.playKey?.setAttribute("aria-pressed", String(on));
    if (this.names) this.playKey?.setAttribute("aria-label", this.names[on ? 1 : 0]);
  }

  /** @param {number | null} midi */
  held(midi) {
    this.droneKey?.setAttribute("aria-pressed", String(midi === this.droneMidi));
  }

  // The other parts of the score.
  async takeOthers() {
    const text = await textIn(this.el, "others");
    if (text === null) return;
    const parts = JSON.parse(text);
    Object.assign(this.route, { others: othersOf(parts), parts: parts.length });
    this.dock.hasOthers(this);
  }

  setPath() {
    const { travel_mm } = this.dock.slide.horn;
    this.music.setPath(this.pathOn && this.hasPath, { travel_mm, stays: staysOf(this.route.played) });
  }

  // The path is the student's: under another's staff it would be taken for theirs.
  get hasPath() {
    return !this.paired || this.music.alone;
  }

  askPath() {
    if (asked) asked.paths.hidden = !this.hasPath;
  }

  /** @param {boolean} alone whether the own part is shown by itself */
  showAlone(alone) {
    this.music.show_as(this.music.layout, alone);
    if (this.pathed) this.setPath();
    this.askPath();
  }

  /** @param {number} i */
  tap(i) {
    this.take();
    this.select(i);
    this.dock.point(this.route.notes[i]);
  }

  /** @param {number} i */
  select(i) {
    this.selected = i;
    this.music.select(i);
    this.music.reveal(i, this.music.free());
  }

  /** @param {KeyboardEvent} event */
  press(event) {
    if (event.ctrlKey || event.metaKey || event.altKey || event.shiftKey) return;
    const last = this.route.notes.length - 1;
    const now = this.selected ?? -1;
    /** @type {Record<string, number>} */
    const to = {
      ArrowRight: Math.min(last, now + 1), ArrowLeft: Math.max(0, now - 1), Home: 0, End: last,
      Enter: Math.max(0, now),
    };
    if (!(event.key in to)) return;
    event.preventDefault();
    // While a loop is chosen the arrows only look, and Enter takes.
    if (event.key === "Enter" || !["first", "last"].includes(this.dock.loop)) this.tap(to[event.key]);
    else {
      this.select(to[event.key]);
      this.dock.show(this.route.notes[to[event.key]]);
    }
  }

  /** @param {number | null} i */
  cursor(i) {
    this.music.cursor(i);
    if (i === null) return;
    if (this.music.layout === "lines") this.music.reveal(i, this.music.free());
    else this.music.intoSight();
  }

  /**
   * @param {number} second
   * @param {PlayedRow} row
   * @param {PlayedRow | null} next
   */
  follow(second, row, next) {
    if (this.music.layout !== "line") return;
    const end = next ? next.on_s : row.on_s + row.len_s;
    const share = Math.min(1, Math.max(0, (second - row.on_s) / Math.max(0.01, end - row.on_s)));
    this.music.goBy(row.i, next && next.i, share);
  }

  /** @param {NoteRange | null} range */
  limit(range) {
    this.music.limit(({ i }) => !range || (i >= range.from && i <= range.to));
  }

  release() {
    this.music.select(null);
    this.music.cursor(null);
    this.selected = null;
    this.el.classList.remove("is-taken");
    this.playing(false);
  }
}

/**
 * @typedef {import("./dock.js").Block} Block
 * @param {HTMLElement} el
 * @param {PartData} data
 * @param {import("./dock.js").Dock} dock
 */
export function setUp(el, data, dock) {
  const block = new PartBlock(el, data, dock);
  // The first block of a page has the dock from the start.
  if (!dock.block) {
    block.take();
    if (block.route.notes.length) dock.slide.show(block.route.notes[0]);
  }
}
