// A take in a hand-out: its part with what was heard of each note; while it plays, the slide goes as
// it should and its ghost as it went. The recording, where it is in the page, can sound instead.

import { BlockMusic } from "./blockmusic.js";
import { HeardMusic, withHeard } from "./heard.js";
import { choice } from "./looks.js";
import { Motion } from "./motion.js";
import { PartBlock } from "./partblock.js";
import { fill } from "./words.js";

/**
 * What handslide.jobs.handout.take writes beside the part; `recorded` are the notes as they come in
 * the recording.
 * @typedef {[i: number, sign: import("./heard.js").HeardNote["sign"], mm: number | null, off_mm: number | null, words: string]} HeardRow
 * @typedef {[i: number, on_s: number, len_s: number, off_mm: number | null]} RecordedRow
 * @typedef {{ first: number, last: number, from: number, to: number }} RecordedRun rows, and seconds
 * @typedef {import("./partblock.js").PartData & { heard: HeardRow[], recorded: RecordedRow[] }} TakeData
 */

const Marked = withHeard(BlockMusic);

class TakeBlock extends PartBlock {
  /**
   * @param {HTMLElement} el
   * @param {TakeData} data
   * @param {import("./dock.js").Dock} dock
   */
  constructor(el, data, dock) {
    const { texts } = dock;
    super(el, data, dock, { path: false, makeMusic: (score, pick) => new Marked(score, el, pick) });
    /** @type {Map<number, number>} where the slide was, mm, by note */
    this.went = new Map();
    for (const [i, , , off, words] of data.heard) {
      const note = this.route.notes[i];
      if (off !== null && note.extension_mm !== null) this.went.set(i, note.extension_mm + off);
      note.words = fill(texts.heard, { words: note.words ?? texts.nothing, heard: words });
    }
    this.told = data.heard.map(([i, sign, mm]) => ({ i, sign, mm }));
    /** @type {InstanceType<typeof Marked>} */ (this.music).tell(this.told);
    /** @type {object | null} the stretch that the ghost's motion is of */
    this.stretch = null;
    /** @type {Motion | null} */
    this.ghost = null;
    const audio = el.querySelector("audio");
    this.recording = audio && data.recorded.length ? new Recording(this, audio, data.recorded) : null;
    if (this.recording) this.own.unshift(this.recording.choice);
  }

  // What is printed has the signs, too.
  async markSheet() {
    const sheet = /** @type {HTMLElement | null} */ (this.el.querySelector(".sheet"));
    if (!sheet) return;
    await document.fonts.ready;
    sheet.classList.add("is-measured");
    const printed = new HeardMusic(sheet, () => none());
    printed.svgs = [...sheet.querySelectorAll("svg")];
    printed.setNotes(this.route.notes);
    printed.tell(this.told);
    sheet.classList.remove("is-measured");
  }

  /** @param {number} i */
  select(i) {
    super.select(i);
    this.dock.slide.ghost(this.went.get(i) ?? null);
  }

  /** @param {number} i */
  tap(i) {
    const { loop } = this.dock;
    super.tap(i);
    if (loop !== "first" && loop !== "last") this.recording?.tap(i);
  }

  /** @param {NoteRange | null} range */
  limit(range) {
    super.limit(range);
    this.recording?.limit(range);
  }

  /**
   * @param {number} second
   * @param {PlayedRow} row
   * @param {PlayedRow | null} next
   */
  follow(second, row, next) {
    super.follow(second, row, next);
    const { stretch, options } = this.dock.player;
    if (stretch && this.stretch !== stretch) {
      this.stretch = stretch;
      this.ghost = new Motion(stretch.rows, (i) => this.went.get(i) ?? null, options.loop ? stretch.to : null);
    }
    this.dock.slide.ghost(this.went.has(row.i) ? (this.ghost?.at(second) ?? null) : null);
  }

  release() {
    super.release();
    this.recording?.stop();
    this.dock.slide.ghost(null);
  }
}

// The recording, and the slide in time with it.
class Recording {
  /**
   * @param {TakeBlock} block
   * @param {HTMLAudioElement} audio
   * @param {RecordedRow[]} rows
   */
  constructor(block, audio, rows) {
    const { dock } = block;
    const { texts } = dock;
    const { notes, played } = block.route;
    this.block = block;
    this.audio = audio;
    this.on = false; // whether Play plays it
    /** @type {number | null} where it ends, if only a note is to be heard */
    this.until = null;
    /** @type {{ from: number, to: number } | null} seconds that come again and again */
    this.loop = null;
    this.k = -1;
    this.raf = 0;
    const moves = new Map(played.map((row) => [row.i, row.move_s]));
    this.rows = rows.map(([i, on_s, len_s], k) => ({
      i: k, note: i, on_s, len_s, slur: false, gliss: false, hz: 0, move_s: moves.get(i) ?? null,
    }));
    this.ideal = new Motion(this.rows, (k) => notes[rows[k][0]].extension_mm);
    this.went = rows.map(([i, , , off]) => {
      const { extension_mm } = notes[i];
      return off === null || extension_mm === null ? null : extension_mm + off;
    });
    this.ghost = new Motion(this.rows, (k) => this.went[k]);
    this.choice = choice(`${block.el.id}-sounds`, texts.sounds, [["notes", texts.notes], ["recording", texts.recording]], "notes", (now) => {
      this.stop();
      this.turn(now === "recording");
    });
    audio.addEventListener("play", () => this.begun());
    audio.addEventListener("pause", () => {
      if (audio.ended && this.loop) this.again();
      else this.tell(audio.ended ? "stopped" : "paused");
    });
    // No pictures are drawn while nobody sees the page.
    audio.addEventListener("timeupdate", () => this.goRound());
    audio.addEventListener("seeked", () => this.frame());
  }

  /** @param {boolean} on */
  turn(on) {
    const { dock } = this.block;
    this.on = on;
    if (on && dock.player.state !== "stopped") dock.player.stop();
    const input = this.choice.querySelector(`input[value="${on ? "recording" : "notes"}"]`);
    /** @type {HTMLInputElement} */ (input).checked = true;
  }

  toggle() {
    this.until = null;
    if (!this.audio.paused) this.audio.pause();
    else if (this.loop && !this.within(this.loop)) this.again();
    else this.audio.play();
  }

  /**
   * Notes that come again and again: where they follow each other longest in the recording.
   * @param {NoteRange | null} range
   */
  limit(range) {
    /** @type {RecordedRun[]} */
    const runs = [];
    for (const { note, on_s, len_s, i } of range ? this.rows : []) {
      if (!range || note < range.from || note > range.to) continue;
      const run = runs.at(-1);
      if (run && run.last === i - 1) Object.assign(run, { last: i, to: on_s + len_s });
      else runs.push({ first: i, last: i, from: on_s, to: on_s + len_s });
    }
    runs.sort((a, b) => b.last - b.first - (a.last - a.first));
    this.loop = runs[0] ?? null;
    this.goRound();
  }

  /** @param {{ from: number, to: number }} loop */
  within({ from, to }) {
    const { currentTime } = this.audio;
    return currentTime >= from - 0.05 && currentTime < to;
  }

  // From the end of the stretch, or from elsewhere, to its beginning.
  goRound() {
    const { loop, audio } = this;
    if (loop && this.on && this.until === null && !audio.paused && !audio.seeking && !this.within(loop)) this.again();
  }

  again() {
    this.audio.currentTime = this.loop?.from ?? 0;
    this.audio.play();
  }

  stop() {
    this.audio.pause();
  }

  /** @param {number} i */
  tap(i) {
    const row = this.rows.findLast(({ note }) => note === i);
    if (!this.on || !row) return;
    const playing = !this.audio.paused && this.until === null;
    this.audio.currentTime = row.on_s;
    if (playing) return;
    this.until = row.on_s + row.len_s;
    this.audio.play();
  }

  // It may have been begun by its own key.
  begun() {
    this.block.dock.take(this.block, this.block.own);
    if (!this.on) this.turn(true);
    this.tell("playing");
    cancelAnimationFrame(this.raf);
    const step = () => {
      this.frame();
      if (!this.audio.paused) this.raf = requestAnimationFrame(step);
    };
    step();
  }

  /** @param {import("./player.js").PlayerState} state */
  tell(state) {
    this.block.dock.player.dispatch("state", { state, counting: 0 });
    if (state === "stopped") this.block.cursor(null);
  }

  frame() {
    const { audio, block, rows } = this;
    const { dock } = block;
    if (!this.on) return;
    if (audio.playbackRate !== dock.player.rate) audio.playbackRate = dock.player.rate;
    const now = audio.currentTime;
    if (this.until !== null && now >= this.until) {
      this.until = null;
      audio.pause();
      return;
    }
    this.goRound();
    const k = Math.max(0, rows.findLastIndex(({ on_s }) => on_s <= now));
    if (k !== this.k) {
      this.k = k;
      dock.show(block.route.notes[rows[k].note]);
      block.cursor(rows[k].note);
    }
    dock.slide.put(this.ideal.at(now));
    dock.slide.ghost(this.went[k] === null ? null : this.ghost.at(now));
  }
}

async function* none() {}

/**
 * @param {HTMLElement} el
 * @param {TakeData} data
 * @param {import("./dock.js").Dock} dock
 */
export function setUp(el, data, dock) {
  const block = new TakeBlock(el, data, dock);
  block.markSheet();
  if (!dock.block) {
    dock.take(block, block.own);
    if (block.route.notes.length) dock.slide.show(block.route.notes[0]);
  }
}
