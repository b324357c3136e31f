// A clip of a part, put together in the browser from the layers that handslide.jobs.clip.film hands over,
// and recorded by the browser's own encoder, in the time that the music takes.

import { jerkless, placeWithin } from "./motion.js";

const KINDS = [
  "video/mp4;codecs=avc1.4D0028,mp4a.40.2", "video/webm;codecs=vp9,opus", "video/webm", "video/mp4",
];
const BITS_A_PIXEL = 0.12; // it has no time to think
const FIRST_S = 0.3; // the encoder has begun by then
// Chromium's recorder dates a packet of Opus, 60 ms of sound, when it is full, so that what is heard
// comes later in the file than what was seen with it. Measured (benchmarks/clip.py --recorded): 42 to
// 52 ms in all settings of the context; in other browsers it isn't known.
const OPUS_LATE_S = 0.048;

/**
 * @typedef {{
 *   width: number, height: number, fps: number, length_s: number, card_s: number,
 *   title: string | null, end: string | null, ground: string, light: string,
 *   light_px: [number, number], look: number, top: number, high: number,
 *   tiles: { x: number, png: string }[],
 *   view: { at_s: number[], x: number[], eased: boolean[] },
 *   slide: { x: number, y: number, upright: boolean }, still: Record<string, string>, outer: string,
 *   marks: Record<string, string>, mark: { x: number, y: number }, first: number,
 *   moves: { at: number, s: number, from: number, to: number }[],
 *   notes: { on_s: number, until_s: number, x: number | null, mark: string, valves: string }[],
 * }} FilmPlan
 */

/** @param {string} address */
async function pictureOf(address) {
  const image = new Image();
  image.src = address;
  await image.decode();
  return image;
}

/**
 * How far a list that begins at these times has come: the last that has begun, or -1.
 * @template T
 * @param {T[]} list
 * @param {(one: T) => number} begin
 * @param {number} t
 */
const begun = (list, begin, t) => list.findLastIndex((one) => begin(one) <= t);

/** Which kind of file this browser can record, if any. */
export function recordable() {
  if (!("MediaRecorder" in window) || !HTMLCanvasElement.prototype.captureStream) return null;
  return KINDS.find((kind) => MediaRecorder.isTypeSupported(kind)) ?? null;
}

/**
 * By how much sound comes later than a picture of the same moment in what this browser records.
 * @param {string} kind
 */
const soundLate = (kind) => ("chrome" in window && !kind.startsWith("video/mp4") ? OPUS_LATE_S : 0);

export class Film {
  /**
   * @param {FilmPlan} plan
   * @param {Map<string, HTMLImageElement>} pictures by their addresses
   */
  constructor(plan, pictures) {
    this.plan = plan;
    this.pictures = pictures;
    this.canvas = document.createElement("canvas");
    this.canvas.width = plan.width;
    this.canvas.height = plan.height;
    this.canvas.setAttribute("aria-hidden", "true"); // what is done is said beside it
    const pen = this.canvas.getContext("2d", { alpha: false });
    if (!pen) throw new Error("no canvas");
    this.pen = pen;
    this.before_s = plan.title ? plan.card_s : 0;
    this.length_s = this.before_s + plan.length_s + (plan.end ? plan.card_s : 0);
  }

  /** @param {FilmPlan} plan */
  static async of(plan) {
    const addresses = [
      plan.ground, plan.outer, ...plan.tiles.map(({ png }) => png), ...Object.values(plan.still),
      ...Object.values(plan.marks), ...[plan.title, plan.end].filter((one) => one !== null),
    ];
    const pictures = await Promise.all(
      addresses.map(async (one) => /** @type {const} */ ([one, await pictureOf(one)])),
    );
    return new Film(plan, new Map(pictures));
  }

  /**
   * @param {string} address
   * @param {number} x
   * @param {number} y
   */
  put(address, x, y) {
    const picture = this.pictures.get(address);
    if (picture) this.pen.drawImage(picture, Math.round(x), Math.round(y));
  }

  /**
   * What is seen at a time of the film.
   * @param {number} t
   */
  draw(t) {
    const { title, end, length_s } = this.plan;
    if (title && t < this.before_s) this.put(title, 0, 0);
    else if (end && t >= this.before_s + length_s) this.put(end, 0, 0);
    else this.drawMusic(t - this.before_s);
  }

  /** @param {number} t of the sound */
  drawMusic(t) {
    const { plan, pen } = this;
    const last = begun(plan.notes, (note) => note.on_s, t);
    const note = plan.notes[last];
    const now = note && t < note.until_s ? note : null;
    this.put(plan.ground, 0, 0);
    const left = Math.round(this.lookAt(t)) - plan.look;
    for (const { x, png } of plan.tiles) {
      const wide = this.pictures.get(png)?.width ?? 0;
      if (x < left + plan.width && x + wide > left) this.put(png, x - left, plan.top);
    }
    if (now && now.x !== null) {
      const [before, after] = plan.light_px;
      const from = Math.round(now.x - before);
      pen.globalCompositeOperation = "darken";
      pen.fillStyle = plan.light;
      pen.fillRect(from - left, plan.top, Math.round(now.x + after) - from, plan.high);
      pen.globalCompositeOperation = "source-over";
    }
    const { x, y, upright } = plan.slide;
    const at = plan.notes[Math.max(0, last)];
    const out = Math.round(this.slideAt(t));
    this.put(plan.still[at?.valves ?? ""], x, y);
    this.clipped(() => this.put(plan.outer, x + (upright ? 0 : out), y - (upright ? out : 0)));
    if (now) {
      const mark = this.pictures.get(plan.marks[now.mark]);
      const [wide, high] = [mark?.width ?? 0, mark?.height ?? 0];
      this.put(plan.marks[now.mark], plan.mark.x - Math.floor(wide / 2), plan.mark.y - Math.floor(high / 2));
    }
  }

  /**
   * The slide stays within its own part of the picture.
   * @param {() => void} draw
   */
  clipped(draw) {
    const { pen, plan } = this;
    const still = this.pictures.get(Object.values(plan.still)[0]);
    pen.save();
    pen.beginPath();
    pen.rect(plan.slide.x, plan.slide.y, still?.width ?? 0, still?.height ?? 0);
    pen.clip();
    draw();
    pen.restore();
  }

  /**
   * Which place of the music is looked at.
   * @param {number} t
   */
  lookAt(t) {
    const { at_s, x, eased } = this.plan.view;
    const k = begun(at_s, (one) => one, t);
    if (k < 0 || k >= eased.length) return x[Math.max(0, k)];
    const share = (t - at_s[k]) / Math.max(at_s[k + 1] - at_s[k], 1e-9);
    return x[k] + (eased[k] ? jerkless(share) : share) * (x[k + 1] - x[k]);
  }

  /**
   * How far the slide is out.
   * @param {number} t
   */
  slideAt(t) {
    const { moves, first } = this.plan;
    const move = moves[begun(moves, (one) => one.at, t)];
    return move ? placeWithin({ ...move, begin: move.at, end: move.at + move.s }, t) : first;
  }

  /**
   * Record it with its sound; what `told` hears is how many seconds are done. null: it was stopped.
   * @param {AudioBuffer} sound
   * @param {AudioContext} context
   * @param {string} kind
   * @param {(second: number) => void} told
   * @param {AbortSignal} stop
   * @returns {Promise<Blob | null>}
   */
  async record(sound, context, kind, told, stop) {
    const { plan, canvas } = this;
    const heard = context.createMediaStreamDestination();
    const source = context.createBufferSource();
    source.buffer = sound;
    source.connect(heard);
    this.draw(-FIRST_S);
    const stream = new MediaStream([
      ...canvas.captureStream(plan.fps).getVideoTracks(), ...heard.stream.getAudioTracks(),
    ]);
    const videoBitsPerSecond = Math.round(BITS_A_PIXEL * plan.width * plan.height * plan.fps);
    const recorder = new MediaRecorder(stream, {
      mimeType: kind, videoBitsPerSecond, audioBitsPerSecond: 160_000,
    });
    /** @type {Blob[]} */
    const pieces = [];
    recorder.ondataavailable = ({ data }) => pieces.push(data);
    const done = new Promise((resolve, fail) => {
      recorder.onstop = resolve;
      recorder.onerror = fail;
    });
    recorder.start(1000);
    const begin = context.currentTime + FIRST_S;
    source.start(begin + this.before_s);
    // A picture is seen until the next one: its middle is what it shows.
    const later_s = soundLate(kind) - 0.5 / plan.fps;
    const step = () => {
      const t = context.currentTime - begin - later_s;
      if (stop.aborted || t >= this.length_s) {
        recorder.stop();
        return;
      }
      this.draw(t);
      told(Math.max(0, t));
      requestAnimationFrame(step);
    };
    requestAnimationFrame(step);
    try {
      await done;
    } finally {
      source.stop();
      for (const track of stream.getTracks()) track.stop();
    }
    return stop.aborted ? null : new Blob(pieces, { type: kind.split(";")[0] });
  }
}
