// The live view: what is heard now, how many cents from the note aimed at, where the slide is
// beside where it should be, and the last seconds.

import { number } from "/static/words.js";

const SHOWN_CENTS = 50; // how far the scale goes each way
const TRACE_S = 8;
const TRACE_CENTS = 60;
const KEEP_MS = 400; // how long a note stays when it falls silent
const AGAIN_MS = [1000, 2000, 5000]; // waits before the live view is asked for again
const MOST_WAITING = 400_000; // bytes: when the server lags behind, blocks are left out
const REFUSED = 4400;

/**
 * What a live view begins with.
 * @typedef {{
 *   rate_hz: number, student: number, stand: number | null, aim: number | null,
 * }} LiveStart
 * @typedef {{ state: "open" | "lost" | "over", said: string }} LiveState
 */

// The way to the server. Events: "heard" (detail: HeardMessage), "state" (detail: LiveState).
export class LiveSocket extends EventTarget {
  /** @param {LiveStart} start */
  constructor(start) {
    super();
    this.start = start;
    this.tries = 0;
    this.ended = false;
    this.timer = 0;
    this.socket = this.connect();
  }

  connect() {
    const scheme = location.protocol === "https:" ? "wss" : "ws";
    const socket = new WebSocket(`${scheme}://${location.host}/live`);
    socket.binaryType = "arraybuffer";
    let said = "";
    socket.addEventListener("open", () => {
      socket.send(JSON.stringify(this.start));
      this.tell("open");
    });
    socket.addEventListener("message", ({ data }) => {
      /** @type {HeardMessage} */
      const message = JSON.parse(data);
      if (message.error) said = message.error.text;
      else {
        this.tries = 0;
        this.dispatchEvent(new CustomEvent("heard", { detail: message }));
      }
    });
    socket.addEventListener("close", ({ code }) => {
      if (this.ended) return;
      const again = code !== REFUSED && this.tries < AGAIN_MS.length;
      this.tell(again ? "lost" : "over", said);
      if (again) this.timer = setTimeout(() => this.reconnect(), AGAIN_MS[this.tries++]);
    });
    return socket;
  }

  reconnect() {
    this.socket = this.connect();
  }

  /** @param {LiveState["state"]} state */
  tell(state, said = "") {
    this.dispatchEvent(new CustomEvent("state", { detail: { state, said } }));
  }

  get open() {
    return this.socket.readyState === WebSocket.OPEN;
  }

  /** @param {ArrayBuffer} block */
  send(block) {
    if (this.open && this.socket.bufferedAmount < MOST_WAITING) this.socket.send(block);
  }

  /** @param {number | null} midi */
  aim(midi) {
    this.start.aim = midi;
    if (this.open) this.socket.send(JSON.stringify({ aim: midi }));
  }

  end() {
    this.ended = true;
    clearTimeout(this.timer);
    this.socket.close();
  }
}

/**
 * The detail of an event of a LiveSocket.
 * @template T
 * @param {Event} event
 * @returns {T}
 */
export function detailOf(event) {
  return /** @type {CustomEvent<T>} */ (event).detail;
}

/**
 * The element of a class that a live view has.
 * @template {HTMLElement} [T=HTMLElement]
 * @param {HTMLElement} el
 * @param {string} name
 * @param {new () => T} [kind]
 * @returns {T}
 */
function within(el, name, kind) {
  const found = el.querySelector(`.${name}`);
  if (!(found instanceof (kind ?? HTMLElement))) throw new Error(`this page has no .${name}`);
  return /** @type {T} */ (found);
}

// Shows messages in the elements of `el` (classes live-note, live-cents, live-scale, live-trace).
export class LiveView {
  /**
   * @param {HTMLElement} el
   * @param {import("/static/slide.js").Slide} slide
   * @param {Map<number, string>} names of notes, by MIDI number
   * @param {Texts} texts
   */
  constructor(el, slide, names, texts) {
    this.slide = slide;
    this.names = names;
    this.texts = texts;
    this.note = within(el, "live-note");
    this.cents = within(el, "live-cents");
    this.scale = within(el, "live-scale");
    this.bar = within(el, "live-bar");
    this.canvas = within(el, "live-trace", HTMLCanvasElement);
    this.inTune = Number(this.canvas.dataset.inTune);
    this.scale.style.setProperty("--in-tune", String(this.inTune));
    /** @type {{ t: number, cents: number | null, midi: number | null }[]} */
    this.points = [];
    this.soundedAt = 0;
    /** @type {string | null} */
    this.placeKey = null;
    /** @type {number | null} */
    this.frame = null;
    this.clear();
    new ResizeObserver(() => this.draw()).observe(this.canvas);
  }

  clear() {
    this.points = [];
    this.soundedAt = 0;
    this.placeKey = null;
    this.silent();
    this.draw();
  }

  silent() {
    this.cents.textContent = this.texts.waiting;
    this.cents.dataset.state = "none";
    this.bar.hidden = true;
    this.scale.dataset.state = "none";
    this.note.dataset.state = "none";
    if (!this.note.textContent) this.note.textContent = "–";
    this.slide.now(null);
  }

  /** @param {HeardMessage} message */
  show(message) {
    const { midi, cents, place, slide_mm: slideMm } = message;
    const now = performance.now();
    const sounds = message.hz !== null;
    if (midi !== null && midi !== undefined) {
      this.note.textContent = this.names.get(midi) ?? message.note;
    }
    const key = place ? `${place.mark} ${place.extension_mm}` : null;
    if (place && key !== this.placeKey) {
      this.placeKey = key;
      this.slide.target(place);
    }
    if (sounds) {
      this.soundedAt = now;
      this.note.dataset.state = "on";
      this.showCents(cents, message);
      this.slide.now(slideMm);
    } else if (now - this.soundedAt > KEEP_MS) {
      this.silent();
    }
    this.points.push({ t: message.t, cents: sounds ? cents : null, midi });
    while (this.points.length && this.points[0].t < message.t - TRACE_S) this.points.shift();
    this.frame ??= requestAnimationFrame(() => {
      this.frame = null;
      this.draw();
    });
  }

  /**
   * @param {number | null} cents
   * @param {HeardMessage} message
   */
  showCents(cents, message) {
    if (cents === null) {
      this.bar.hidden = true;
      this.scale.dataset.state = "far";
      this.cents.dataset.state = "far";
      this.cents.textContent = message.text;
      return;
    }
    const state = message.tune === "in_tune" ? "good" : "off";
    this.scale.dataset.state = state;
    this.cents.dataset.state = state;
    this.cents.textContent = message.text;
    const held = Math.max(-SHOWN_CENTS, Math.min(SHOWN_CENTS, cents));
    this.bar.hidden = false;
    this.bar.style.left = `${50 + Math.min(0, held)}%`;
    this.bar.style.width = `${Math.max(1, Math.abs(held))}%`;
    this.bar.dataset.side = cents < 0 ? "low" : "high";
  }

  draw() {
    const canvas = this.canvas;
    const ratio = window.devicePixelRatio || 1;
    const width = canvas.clientWidth;
    const height = canvas.clientHeight;
    if (!width) return;
    if (canvas.width !== Math.round(width * ratio)) canvas.width = Math.round(width * ratio);
    if (canvas.height !== Math.round(height * ratio)) canvas.height = Math.round(height * ratio);
    const pen = canvas.getContext("2d");
    if (!pen) return;
    /** @type {(name: string) => string} */
    const colour = (name) => getComputedStyle(canvas).getPropertyValue(name).trim();
    pen.setTransform(ratio, 0, 0, ratio, 0, 0);
    pen.clearRect(0, 0, width, height);
    const left = 38;
    /** @type {(cents: number) => number} */
    const y = (cents) => height / 2 - (cents / TRACE_CENTS) * (height / 2 - 8);
    pen.font = `12px ${colour("--sans")}`;
    pen.textBaseline = "middle";
    pen.textAlign = "right";
    pen.fillStyle = colour("--brass-tint");
    pen.fillRect(left, y(this.inTune), width - left, y(-this.inTune) - y(this.inTune));
    for (const cents of [-50, -25, 0, 25, 50]) {
      pen.fillStyle = colour("--muted");
      pen.fillText(`${cents > 0 ? "+" : ""}${number(cents)}`, left - 6, y(cents));
      pen.fillStyle = colour(cents ? "--line" : "--edge");
      pen.fillRect(left, Math.round(y(cents)), width - left, 1);
    }
    const end = this.points.at(-1)?.t ?? 0;
    /** @type {(t: number) => number} */
    const x = (t) => width - 4 - ((end - t) / TRACE_S) * (width - left - 8);
    this.line(pen, x, y, colour);
  }

  /**
   * The pitch as a line, broken where it is silent or another note begins; each note named once.
   * @param {CanvasRenderingContext2D} pen
   * @param {(t: number) => number} x
   * @param {(cents: number) => number} y
   * @param {(name: string) => string} colour
   */
  line(pen, x, y, colour) {
    pen.lineWidth = 2.5;
    pen.lineJoin = "round";
    pen.strokeStyle = pen.fillStyle = colour("--ink");
    pen.textAlign = "left";
    /** @type {{ midi: number | null } | null} */
    let before = null;
    let named = -Infinity;
    pen.beginPath();
    for (const point of this.points) {
      if (point.cents === null || point.cents === undefined) {
        before = null;
        continue;
      }
      const at = x(point.t);
      const height = y(Math.max(-58, Math.min(58, point.cents)));
      if (before && before.midi === point.midi) pen.lineTo(at, height);
      else {
        pen.moveTo(at, height);
        if (at > named && at > 40) {
          const name = this.names.get(point.midi ?? -1) ?? "";
          pen.fillText(name, at + 2, 10);
          named = at + 2 + pen.measureText(name).width;
        }
      }
      before = point;
    }
    pen.stroke();
  }
}
