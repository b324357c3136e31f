// Plays a part from the JSON of its route: tones on the audio clock, the slide moving as a player
// would move it, the metronome, and the cursor.

import { endOf, glideTime, moveTime, touches } from "./motion.js";
import { Desk, MODERATE, midiHz } from "./tone.js";

const AHEAD_S = 0.25; // what is put on the clock in advance
const AHEAD_HIDDEN_S = 2.5; // a page in the background is woken once a second
const TICK_MS = 40;
const TONGUED = 0.94; // share of its length that a note sounds which isn't slurred
const OWN_GAINS = { loud: 1, quiet: 0.2, off: 0 }; // as in play-alongs
const OTHERS_GAIN = 0.35;
const FIRST_S = 0.12; // from the button to the first sound

/**
 * @typedef {"playing" | "paused" | "stopped"} PlayerState
 * @typedef {import("./tone.js").Voice} Voice
 * @typedef {{ at: number, say: () => void }} Due something to show, and when
 */

// The score's notes and beats between two written notes, as a stretch of time.
class Stretch {
  /**
   * @param {PlayedRoute} route
   * @param {NoteRange | null} range
   */
  constructor(route, range) {
    const rows = route.played;
    /** @type {(row: PlayedRow) => boolean} */
    const inside = (row) => !range || (row.i >= range.from && row.i <= range.to);
    let first = rows.findIndex(inside);
    if (first < 0) first = 0;
    let last = first;
    while (last + 1 < rows.length && inside(rows[last + 1])) last += 1;
    this.rows = rows.slice(first, last + 1);
    const begin = this.rows[0]?.on_s ?? 0;
    const finish = last + 1 < rows.length ? rows[last + 1].on_s : endOf(rows[last]);
    const beats = route.beats?.length ? route.beats : beatsOf(route);
    const downbeats = beats.filter(([, strong]) => strong).map(([second]) => second);
    // A stretch begins with its measure, so that a loop keeps the beat.
    this.from = range ? latest(downbeats, begin + 0.001) ?? begin : begin;
    this.to = range ? downbeats.find((second) => second >= finish - 0.001) ?? finish : finish;
    this.from = Math.min(this.from, begin);
    this.to = Math.max(this.to, finish);
    this.others = (route.others ?? []).filter(([, on]) => on >= this.from - 0.001 && on < this.to - 0.001);
    this.beats = beats.filter(([at]) => at >= this.from - 0.001 && at < this.to - 0.001);
    this.measure = measureAt(beats, this.from);
  }
}

/** @type {(sorted: number[], at: number) => number | undefined} */
const latest = (sorted, at) => sorted.filter((second) => second <= at).at(-1);

/**
 * @param {PlayedRoute} route
 * @returns {Beat[]}
 */
function beatsOf(route) {
  const step = 60 / (route.tempo_qpm || 80);
  const count = Math.ceil(endOf(route.played.at(-1)) / step);
  return Array.from({ length: count }, (_, k) => [k * step, k % 4 === 0 ? 1 : 0]);
}

/**
 * The beats of the measure that a place lies in, and how long one is.
 * @param {Beat[]} beats
 * @param {number} from
 */
export function measureAt(beats, from) {
  const strong = beats.flatMap(([at, first], k) => (first ? [k] : []));
  let which = strong.findLastIndex((k) => beats[k][0] <= from + 0.001);
  // A last measure, or an upbeat, takes the count of the measure beside it.
  if (which < 0) which = 0;
  if (which + 1 >= strong.length) which = Math.max(0, strong.length - 2);
  const count = strong.length > 1 ? strong[which + 1] - strong[which] : Math.max(1, beats.length);
  const k = strong[which] ?? 0;
  const beat_s = beats.length > k + 1 ? beats[k + 1][0] - beats[k][0] : 0.75;
  return { count, beat_s };
}

/**
 * What the player tells: the note that begins, the way to the next place, and what it does.
 * @typedef {{
 *   cursor: { i: number | null, k: number | null },
 *   move: { note: RouteNote | undefined, ms: number },
 *   state: { state: PlayerState, counting: number },
 *   frame: { second: number },
 * }} PlayerEvents
 */

// The engine.
export class Player extends EventTarget {
  constructor(makeContext = () => new AudioContext({ latencyHint: "playback" })) {
    super();
    this.makeContext = makeContext;
    /** @type {PlayedRoute | null} */
    this.route = null;
    /** @type {Map<number, RouteNote>} */
    this.notes = new Map();
    /** @type {NoteRange | null} */
    this.range = null;
    /** @type {Stretch | null} */
    this.stretch = null;
    this.rate = 1;
    this.volume = MODERATE;
    this.options = { countIn: true, metronome: false, loop: false, others: true };
    /** @type {keyof typeof OWN_GAINS} how the part itself is heard */
    this.solo = "loud";
    /** @type {PlayerState} */
    this.state = "stopped";
    /** @type {number | null} where play begins, in seconds of the score */
    this.at_s = null;
    /** @type {Desk | null} */
    this.desk = null;
    // Second s0 of the score sounds at t0 on the clock; the next note and beat to be put there.
    this.s0 = this.t0 = 0;
    this.next = this.nextBeat = this.nextOther = 0;
    this.rounds = 0; // how often a loop began again
    this.raf = 0;
    /** @type {number | null} */
    this.timer = null;
    /** @type {{ at: number, end: number, voice: Voice }[]} */
    this.sounding = [];
    /** @type {{ at: number, voice: Voice }[]} */
    this.clicks = [];
    /** @type {Due[]} */
    this.due = [];
  }

  clear() {
    this.sounding = [];
    this.clicks = [];
    this.due = [];
  }

  /** @param {PlayedRoute} route */
  setRoute(route) {
    const before = this.route;
    const same =
      before &&
      before.played.length === route.played.length &&
      before.played.every((row, k) => row.on_s === route.played[k].on_s);
    if (!same && this.state !== "stopped") this.stop();
    this.route = route;
    this.notes = new Map(route.notes.map((note) => [note.i, note]));
    this.level();
  }

  /** @param {NoteRange | null} range */
  setRange(range) {
    if (this.state !== "stopped") this.stop();
    this.range = range;
    this.at_s = null;
  }

  /**
   * The written note that play begins with.
   * @param {number} i
   */
  setStart(i) {
    if (this.state === "playing" || !this.route) return;
    const row = this.route.played.find((one) => one.i === i);
    if (row) this.at_s = row.on_s;
  }

  /** @param {number} volume */
  setVolume(volume) {
    this.volume = volume;
    this.desk?.setVolume(volume);
  }

  /** @param {keyof typeof OWN_GAINS} solo */
  setSolo(solo) {
    this.solo = solo;
    this.level();
  }

  /** @param {boolean} others whether the other parts are heard */
  setOthers(others) {
    this.options.others = others;
    this.level();
  }

  level() {
    if (!this.desk) return;
    const { own, others, context } = this.desk;
    own.gain.setTargetAtTime(OWN_GAINS[this.solo], context.currentTime, 0.02);
    const gain = this.options.others ? OTHERS_GAIN / Math.sqrt(this.route?.parts || 1) : 0;
    others.gain.setTargetAtTime(gain, context.currentTime, 0.02);
  }

  // There is one as soon as it plays: browsers allow no sound before something was pressed.
  get context() {
    return this.desk?.context ?? null;
  }

  // The time of the audio clock.
  get now() {
    return this.context?.currentTime ?? 0;
  }

  // What is heard now; the clock runs ahead of it by what the sound takes to come out.
  get heard() {
    return this.now - (this.context?.outputLatency || 0);
  }

  // The second of the score that is heard now.
  get second() {
    const since = (this.heard - this.t0) * this.rate;
    // The next round of a loop is put on the clock before it begins.
    return since < 0 && this.rounds && this.stretch ? this.stretch.to + since : this.s0 + since;
  }

  /** @param {number} rate */
  setRate(rate) {
    if (this.state === "playing") {
      const now = this.now;
      if (now < this.t0) {
        this.rate = rate;
        this.play(); // still counting in: count again in the new tempo
        return;
      }
      const place = this.placeAt(now);
      this.rate = rate;
      this.silence(now);
      this.begin(place, now);
      if (this.next > 0) this.putMove(this.next - 1);
    } else {
      this.rate = rate;
    }
  }

  /** @param {number} now */
  placeAt(now) {
    return this.s0 + (now - this.t0) * this.rate;
  }

  /** @param {number} second */
  timeOf(second) {
    return this.t0 + (second - this.s0) / this.rate;
  }

  // What sounds run through; to be asked for when something was pressed.
  ready() {
    if (!this.desk) {
      this.desk = new Desk(this.makeContext(), this.volume);
      this.level();
    }
    return this.desk;
  }

  async play() {
    if (!this.route?.played.length) return;
    const desk = this.ready();
    if (desk.context.state === "suspended") await desk.context.resume();
    this.silence();
    const stretch = (this.stretch = new Stretch(this.route, this.range));
    const { from, to, measure } = stretch;
    const place = this.at_s !== null && this.at_s >= from && this.at_s < to ? this.at_s : from;
    let start = this.now + FIRST_S;
    const wasPaused = this.state === "paused";
    const count = this.options.countIn && !wasPaused ? measure.count : 0;
    const beat_s = measure.beat_s / this.rate;
    for (let k = 0; k < count; k++) {
      this.clicks.push({ at: start, voice: desk.click(start, k === 0) });
      const left = k + 1;
      this.due.push({ at: start, say: () => this.tell("playing", left) });
      start += beat_s;
    }
    this.tell("playing", count ? 1 : 0);
    if (count) this.due.push({ at: start, say: () => this.tell("playing", 0) });
    this.readySlide(stretch, place);
    this.begin(place, start);
    this.timer ??= setInterval(() => this.tick(), TICK_MS);
    const frame = () => {
      this.showDue();
      if (this.state === "playing") this.dispatch("frame", { second: this.second });
      this.raf = this.state === "playing" ? requestAnimationFrame(frame) : 0;
    };
    cancelAnimationFrame(this.raf);
    frame();
  }

  /**
   * The slide waits in the place of the first note.
   * @param {Stretch} stretch
   * @param {number} place
   */
  readySlide(stretch, place) {
    const row = stretch.rows.find((one) => one.on_s >= place - 0.001);
    if (row) this.dispatch("move", { note: this.notes.get(row.i), ms: 250 });
  }

  /**
   * @param {number} place
   * @param {number} at
   */
  begin(place, at) {
    if (!this.stretch) return;
    this.s0 = place;
    this.t0 = at;
    this.rounds = 0;
    const { rows, beats, others } = this.stretch;
    this.nextOther = others.findIndex(([, on]) => on >= place - 0.001);
    if (this.nextOther < 0) this.nextOther = others.length;
    this.next = rows.findIndex((row) => row.on_s >= place - 0.001);
    if (this.next < 0) this.next = rows.length;
    this.nextBeat = beats.findIndex(([second]) => second >= place - 0.001);
    if (this.nextBeat < 0) this.nextBeat = beats.length;
    this.tick();
  }

  tick() {
    if (this.state !== "playing" || !this.stretch || !this.desk) return;
    const now = this.now;
    const until = now + (document.hidden ? AHEAD_HIDDEN_S : AHEAD_S);
    const { rows, beats, others, from, to } = this.stretch;
    for (;;) {
      while (this.next < rows.length && this.timeOf(rows[this.next].on_s) < until) {
        this.put(this.next++);
      }
      while (this.nextBeat < beats.length && this.timeOf(beats[this.nextBeat][0]) < until) {
        const [second, strong] = beats[this.nextBeat++];
        const at = this.timeOf(second);
        if (this.options.metronome) {
          this.clicks.push({ at, voice: this.desk.click(at, Boolean(strong)) });
        }
      }
      while (this.nextOther < others.length && this.timeOf(others[this.nextOther][1]) < until) {
        this.putOther(others[this.nextOther++]);
      }
      const end = this.timeOf(to);
      if (!this.options.loop || end >= until || to <= from) break;
      this.nextRound(from, end);
    }
    this.sounding = this.sounding.filter((one) => one.end > now - 0.2);
    this.clicks = this.clicks.filter((one) => one.at > now - 0.5);
    if (document.hidden) this.showDue();
    if (!this.options.loop && now > this.timeOf(to) + 0.15) this.finish();
  }

  /**
   * @param {number} from
   * @param {number} at
   */
  nextRound(from, at) {
    this.s0 = from;
    this.t0 = at;
    this.next = this.nextBeat = this.nextOther = 0;
    this.rounds += 1;
  }

  /**
   * Puts note k on the clock.
   * @param {number} k
   */
  put(k) {
    if (!this.stretch || !this.desk) return;
    const { rows } = this.stretch;
    const row = rows[k];
    const behind = joinedTo(row, rows[k + 1]);
    const at = this.timeOf(row.on_s);
    const alone = row.sounds_s ?? row.len_s * TONGUED;
    const length = (behind ? behind.on_s - row.on_s : alone) / this.rate;
    if (length > 0.005) {
      const voice = this.desk.tone({
        hz: row.hz,
        at,
        length,
        slurFrom: Boolean(rows[k - 1] && joinedTo(rows[k - 1], row)),
        slurTo: Boolean(behind),
        glideTo: behind && row.gliss ? { hz: behind.hz, s: glideTime(length) } : null,
        dynamics: row.dynamics,
        into: this.desk.own,
      });
      this.sounding.push({ at, end: at + length, voice });
    }
    this.due.push({ at, say: () => this.dispatch("cursor", { i: row.i, k }) });
    this.putMove(k);
  }

  /** @param {OtherRow} row */
  putOther([midi, on, length, db, timbre]) {
    if (!this.desk || !this.options.others) return;
    const at = this.timeOf(on);
    const voice = this.desk.tone({
      hz: midiHz(midi, this.route?.a4_hz),
      at,
      length: length / this.rate,
      dynamics: { corners: [0, db], stronger_db: 0 },
      timbre,
      into: this.desk.others,
    });
    this.sounding.push({ at, end: at + length / this.rate, voice });
  }

  /**
   * The move of the slide from note k to the one behind it, in the time that the route leaves it.
   * @param {number} k
   */
  putMove(k) {
    if (!this.stretch) return;
    const { rows } = this.stretch;
    const row = rows[k];
    const behind = rows[k + 1] ?? (this.options.loop ? rows[0] : null);
    if (!behind) return;
    const arrive = rows[k + 1] ? behind.on_s : endOf(row);
    const move = moveTime(row, behind, arrive) / this.rate;
    const note = this.notes.get(behind.i);
    const at = this.timeOf(arrive) - move;
    this.due.push({ at, say: () => this.dispatch("move", { note, ms: 1000 * move }) });
  }

  showDue() {
    const { heard } = this;
    const ripe = this.due.filter((one) => one.at <= heard).sort((a, b) => a.at - b.at);
    this.due = this.due.filter((one) => one.at > heard);
    // After a pause of the page only the latest of each kind is worth showing; all are short.
    for (const one of ripe) one.say();
  }

  /**
   * Ends what sounds and takes back what is on the clock; what began up to `keepBefore` goes on.
   * @param {number | null} keepBefore
   */
  silence(keepBefore = null) {
    for (const one of [...this.sounding, ...this.clicks]) {
      if (keepBefore === null || one.at > keepBefore) one.voice.stop();
    }
    /** @type {<T extends { at: number }>(list: T[]) => T[]} */
    const kept = (list) => (keepBefore === null ? [] : list.filter((one) => one.at <= keepBefore));
    const { sounding, due } = this;
    this.clear();
    this.sounding = kept(sounding);
    this.due = kept(due); // what sounds already, but isn't shown yet
  }

  pause() {
    if (this.state !== "playing" || !this.stretch) return;
    const place = this.placeAt(Math.max(this.now, this.t0));
    const row = this.stretch.rows.filter((one) => one.on_s <= place + 0.001).at(-1);
    this.at_s = row ? row.on_s : this.stretch.from;
    this.silence();
    this.tell("paused");
  }

  stop() {
    if (this.state === "stopped") return;
    this.silence();
    this.finish();
  }

  finish() {
    this.rest();
    this.at_s = null;
    this.tell("stopped");
    this.clear();
    this.dispatch("cursor", { i: null, k: null });
  }

  toggle() {
    if (this.state === "playing") this.pause();
    else this.play();
  }

  rest() {
    if (this.timer !== null) clearInterval(this.timer);
    this.timer = null;
  }

  /** @param {PlayerState} state */
  tell(state, counting = 0) {
    this.state = state;
    if (state !== "playing") this.rest();
    this.dispatch("state", { state, counting });
  }

  /**
   * @template {keyof PlayerEvents} K
   * @param {K} name
   * @param {PlayerEvents[K]} detail
   */
  dispatch(name, detail) {
    this.dispatchEvent(new CustomEvent(name, { detail }));
  }

  /**
   * @template {keyof PlayerEvents} K
   * @param {K} name
   * @param {(detail: PlayerEvents[K]) => void} hear
   */
  on(name, hear) {
    this.addEventListener(name, (event) => {
      hear(/** @type {CustomEvent<PlayerEvents[K]>} */ (event).detail);
    });
  }
}

/**
 * The note behind where it is slurred or glides to it, else null.
 * @param {PlayedRow} row
 * @param {PlayedRow | undefined} behind
 */
const joinedTo = (row, behind) =>
  behind && (row.slur || row.gliss) && touches(row, behind) ? behind : null;
