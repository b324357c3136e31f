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

// The way to the server. Events: "heard" (detail: the message), "state" {state, said}.
export class LiveSocket extends EventTarget {
  constructor(start) {
    super();
    this.start = start; // {rate_hz, student, stand, aim}
    this.tries = 0;
    this.ended = false;
    this.connect();
  }

  connect() {
    const scheme = location.protocol === "https:" ? "wss" : "ws";
    this.socket = new WebSocket(`${scheme}://${location.host}/live`);
    this.socket.binaryType = "arraybuffer";
    let said = "";
    this.socket.addEventListener("open", () => {
      this.socket.send(JSON.stringify(this.start));
      this.tell("open");
    });
    this.socket.addEventListener("message", ({ data }) => {
      const message = JSON.parse(data);
      if (message.error) said = message.error.text;
      else {
        this.tries = 0;
        this.dispatchEvent(new CustomEvent("heard", { detail: message }));
      }
    });
    this.socket.addEventListener("close", ({ code }) => {
      if (this.ended) return;
      const again = code !== REFUSED && this.tries < AGAIN_MS.length;
      this.tell(again ? "lost" : "over", said);
      if (again) this.timer = setTimeout(() => this.connect(), AGAIN_MS[this.tries++]);
    });
  }

  tell(state, said = "") {
    this.dispatchEvent(new CustomEvent("state", { detail: { state, said } }));
  }

  get open() {
    return this.socket.readyState === WebSocket.OPEN;
  }

  send(block) {
    if (this.open && this.socket.bufferedAmount < MOST_WAITING) this.socket.send(block);
  }

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

// Shows messages in the elements of `el` (classes live-note, live-cents, live-scale, live-trace).
export class LiveView {
  constructor(el, slide, names, texts) {
    this.slide = slide;
    this.names = names; // Map of midi -> name
    this.texts = texts;
    const find = (name) => el.querySelector(`.${name}`);
    this.note = find("live-note");
    this.cents = find("live-cents");
    this.scale = find("live-scale");
    this.bar = find("live-bar");
    this.canvas = find("live-trace");
    this.inTune = Number(this.canvas.dataset.inTune);
    this.scale.style.setProperty("--in-tune", this.inTune);
    this.clear();
    new ResizeObserver(() => this.draw()).observe(this.canvas);
  }

  clear() {
    this.points = []; // {t, cents, midi}
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
    this.slide.showNow(null);
  }

  show(message) {
    const { midi, cents, place, slide_mm: slideMm } = message;
    const now = performance.now();
    const sounds = message.hz !== null;
    if (midi !== null && midi !== undefined) {
      this.note.textContent = this.names.get(midi) ?? message.note;
    }
    const key = place ? `${place.mark} ${place.extension_mm}` : null;
    if (key && key !== this.placeKey) {
      this.placeKey = key;
      this.slide.show(place, { ms: 120 });
    }
    if (sounds) {
      this.soundedAt = now;
      this.note.dataset.state = "on";
      this.showCents(cents, message);
      if (slideMm !== null) this.slide.showNow(slideMm);
      else this.slide.showNow(null);
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
    const colour = (name) => getComputedStyle(canvas).getPropertyValue(name).trim();
    pen.setTransform(ratio, 0, 0, ratio, 0, 0);
    pen.clearRect(0, 0, width, height);
    const left = 38;
    const y = (cents) => height / 2 - (cents / TRACE_CENTS) * (height / 2 - 8);
    pen.font = `12px ${colour("--font")}`;
    pen.textBaseline = "middle";
    pen.textAlign = "right";
    pen.fillStyle = colour("--tint");
    pen.fillRect(left, y(this.inTune), width - left, y(-this.inTune) - y(this.inTune));
    for (const cents of [-50, -25, 0, 25, 50]) {
      pen.fillStyle = colour("--muted");
      pen.fillText(`${cents > 0 ? "+" : ""}${number(cents)}`, left - 6, y(cents));
      pen.fillStyle = colour(cents ? "--line" : "--edge");
      pen.fillRect(left, Math.round(y(cents)), width - left, 1);
    }
    const end = this.points.at(-1)?.t ?? 0;
    const x = (t) => width - 4 - ((end - t) / TRACE_S) * (width - left - 8);
    this.line(pen, x, y, colour);
  }

  // The pitch as a line, broken where it is silent or another note begins; each note named once.
  line(pen, x, y, colour) {
    pen.lineWidth = 2.5;
    pen.lineJoin = "round";
    pen.strokeStyle = pen.fillStyle = colour("--ink");
    pen.textAlign = "left";
    let before = null;
    let named = -Infinity;
    pen.beginPath();
    for (const point of this.points) {
      if (point.cents === null || point.cents === undefined) {
        before = null;
        continue;
      }
      const at = [x(point.t), y(Math.max(-58, Math.min(58, point.cents)))];
      if (before && before.midi === point.midi) pen.lineTo(...at);
      else {
        pen.moveTo(...at);
        if (at[0] > named && at[0] > 40) {
          const name = this.names.get(point.midi) ?? "";
          pen.fillText(name, at[0] + 2, 10);
          named = at[0] + 2 + pen.measureText(name).width;
        }
      }
      before = point;
    }
    pen.stroke();
  }
}
