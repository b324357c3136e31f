// Records a take with the microphone.
//
// To record in place on any page:
//
//   <div id="rec"></div>
//   {% include "recording/texts.html" %}      (the texts, and the stylesheet)
//
//   import { recordInto } from "./recorder.js";
//   recordInto(document.getElementById("rec"), { onDone(blob) { ... } });
//
// `blob` is a WAV file (mono, 16 bit). It shows a record/stop button, a level meter and the time;
// errors are said in place. It returns the Recorder. To send the blob:
// `const form = new FormData(); form.append("audio", blob, "take.wav"); fetch(url, {...})`.
//
// Nothing of a recording leaves the page until the page sends it.

import { texts as textsOf } from "./page.js";
import { fill, make } from "./words.js";

const LONGEST_S = 20 * 60;
const BLOCK_S = 0.02;
const HOLD_MS = 1500; // how long the meter holds a peak
const QUIET_DB = -38;
const LOUD_DB = -3;
const START_MS = 4000; // until a sound card that slept must run

/** @param {number} level */
const decibels = (level) => 20 * Math.log10(Math.max(level, 1e-5));

// A reason why nothing can be recorded; `key` names its sentence in the texts.
class RecordingError extends Error {
  /** @param {string} key */
  constructor(key) {
    super(key);
    this.key = key;
  }
}

// Events: "block" (detail: SoundBlock), "lost" (the microphone went away; what
// was recorded is kept), "full" (20 minutes are over).
export class Recorder extends EventTarget {
  constructor() {
    super();
    /** @type {AudioContext | null} */
    this.context = null;
    /** @type {MediaStream | null} */
    this.stream = null;
    /** @type {AudioWorkletNode | null} */
    this.node = null;
    this.rateHz = 48000; // until the microphone is open
    /** @type {SoundBlock["block"][]} */
    this.blocks = [];
    this.samples = 0;
    this.recording = false;
  }

  clear() {
    this.blocks = [];
    this.samples = 0;
    this.recording = false;
  }

  get seconds() {
    return this.samples / this.rateHz;
  }

  /**
   * Opens the microphone, for the meter; nothing is kept before `record`. Raises RecordingError.
   * @param {string} [device] the input's id; without it the browser's own choice
   */
  async open(device = "") {
    if (this.context) return;
    if (!navigator.mediaDevices?.getUserMedia) {
      throw new RecordingError(window.isSecureContext ? "unsupported" : "insecure");
    }
    /** @type {MediaStream} */
    let stream;
    try {
      stream = await navigator.mediaDevices.getUserMedia({
        audio: {
          echoCancellation: false,
          noiseSuppression: false,
          autoGainControl: false,
          ...(device && { deviceId: { exact: device } }),
        },
      });
    } catch (error) {
      throw new RecordingError(reasonOf(error));
    }
    this.stream = stream;
    const context = new AudioContext();
    try {
      await context.audioWorklet.addModule(new URL("./recorder-worklet.js", import.meta.url));
    } catch {
      stream.getTracks().forEach((track) => track.stop());
      context.close();
      throw new RecordingError("unsupported");
    }
    if (!(await starts(context))) {
      stream.getTracks().forEach((track) => track.stop());
      context.close();
      throw new RecordingError("silent");
    }
    this.context = context;
    this.rateHz = context.sampleRate;
    const source = context.createMediaStreamSource(stream);
    this.node = new AudioWorkletNode(context, "gather", {
      numberOfOutputs: 0,
      processorOptions: { size: Math.round(BLOCK_S * this.rateHz) },
    });
    this.node.port.onmessage = ({ data }) => this.take(data);
    source.connect(this.node);
    stream.getAudioTracks()[0].addEventListener("ended", () => {
      if (!this.context) return;
      this.recording = false;
      this.close();
      this.dispatchEvent(new Event("lost"));
    });
  }

  /** @param {SoundBlock} data */
  take(data) {
    if (this.recording) {
      this.blocks.push(data.block);
      this.samples += data.block.length;
      if (this.seconds >= LONGEST_S) {
        this.recording = false;
        this.dispatchEvent(new Event("full"));
      }
    }
    this.dispatchEvent(new CustomEvent("block", { detail: data }));
  }

  record() {
    this.clear();
    this.recording = true;
  }

  // Ends the recording. Returns the WAV file, or null if nothing was recorded.
  stop() {
    this.recording = false;
    return this.samples ? wavOf(this.blocks, this.rateHz) : null;
  }

  // Lets go of the microphone; what was recorded stays.
  close() {
    // Blocks that are still on their way would wake the meter again.
    if (this.node) this.node.port.onmessage = null;
    this.stream?.getTracks().forEach((track) => track.stop());
    this.context?.close();
    this.context = this.stream = this.node = null;
  }
}

/**
 * The block of a "block" event.
 * @param {Event} event
 * @returns {SoundBlock}
 */
export function heardIn(event) {
  return /** @type {CustomEvent<SoundBlock>} */ (event).detail;
}

/**
 * Whether the browser's sound runs. Without anything to play it on, some wait for that without end.
 * @param {AudioContext} context
 */
function starts(context) {
  const late = new Promise((go) => setTimeout(go, START_MS));
  return Promise.race([context.resume(), late]).then(() => context.state === "running");
}

/** @param {unknown} error */
function reasonOf(error) {
  if (!(error instanceof Error)) return "unsupported";
  if (error.name === "NotAllowedError" || error.name === "SecurityError") return "refused";
  if (error.name === "NotFoundError" || error.name === "OverconstrainedError") return "none";
  if (error.name === "NotReadableError" || error.name === "AbortError") return "busy";
  return "unsupported";
}

/**
 * @param {SoundBlock["block"][]} blocks
 * @param {number} rateHz
 */
function wavOf(blocks, rateHz) {
  const bytes = blocks.reduce((sum, block) => sum + 2 * block.length, 0);
  const head = new DataView(new ArrayBuffer(44));
  /** @type {(at: number, word: string) => void} */
  const text = (at, word) => [...word].forEach((c, k) => head.setUint8(at + k, c.charCodeAt(0)));
  text(0, "RIFF");
  head.setUint32(4, 36 + bytes, true);
  text(8, "WAVEfmt ");
  head.setUint32(16, 16, true);
  head.setUint16(20, 1, true);
  head.setUint16(22, 1, true);
  head.setUint32(24, rateHz, true);
  head.setUint32(28, 2 * rateHz, true);
  head.setUint16(32, 2, true);
  head.setUint16(34, 16, true);
  text(36, "data");
  head.setUint32(40, bytes, true);
  return new Blob([head, ...blocks], { type: "audio/wav" });
}

/** @param {number} seconds */
export function clock(seconds) {
  const whole = Math.floor(seconds);
  return `${Math.floor(whole / 60)}:${String(whole % 60).padStart(2, "0")}`;
}

// A level meter with the peak held, and a word: too quiet, good, too loud.
export class Meter {
  /**
   * @param {HTMLElement} el
   * @param {Texts} texts
   */
  constructor(el, texts) {
    this.texts = texts;
    this.peak = this.shown = 0;
    this.at = this.wordAt = this.overAt = 0;
    this.bar = make("span", { class: "meter-level" });
    this.held = make("span", { class: "meter-peak" });
    this.word = make("span", { class: "meter-word" });
    this.track = make("span", { class: "meter-track", "aria-hidden": "true" }, this.bar, this.held);
    el.replaceChildren(make("span", { class: "meter" }, this.track, this.word));
    this.reset();
  }

  reset() {
    this.peak = this.shown = 0;
    this.at = this.wordAt = 0;
    this.bar.style.transform = "scaleX(0)";
    this.held.style.left = "0";
    this.word.textContent = this.texts["meter.waiting"];
    this.word.dataset.state = "waiting";
  }

  /** @param {Pick<SoundBlock, "peak" | "over">} block */
  show({ peak, over }) {
    const now = performance.now();
    if (over) this.overAt = now;
    if (peak >= this.peak || now - this.at > HOLD_MS) {
      this.peak = peak;
      this.at = now;
    }
    this.shown = Math.max(peak, 0.85 * this.shown);
    this.bar.style.transform = `scaleX(${share(this.shown)})`;
    this.held.style.left = `${100 * share(this.peak)}%`;
    if (now - this.wordAt < 250) return;
    this.wordAt = now;
    const db = decibels(this.peak);
    const clipped = this.overAt && now - this.overAt < HOLD_MS;
    const state = clipped || db > LOUD_DB ? "loud" : db < QUIET_DB ? "quiet" : "good";
    this.word.dataset.state = state;
    this.word.textContent = this.texts[`meter.${state}`];
  }
}

/** @param {number} level */
const share = (level) => Math.max(0, Math.min(1, 1 + decibels(level) / 60));

/**
 * The sentence of `texts` that says why nothing can be recorded.
 * @param {unknown} error
 * @param {Texts} texts
 */
export function whyNot(error, texts) {
  return texts[`error.${error instanceof RecordingError ? error.key : "unsupported"}`];
}

/**
 * A recorder in an element, as at the head of this file.
 * @param {HTMLElement} el
 * @param {{
 *   onDone: (blob: Blob, how: { seconds: number, rateHz: number }) => void,
 *   onState?: (state: "on" | "off") => void,
 *   texts?: Texts,
 * }} wishes
 */
export function recordInto(el, { onDone, onState, texts = textsOf("recording-texts") }) {
  const recorder = new Recorder();
  const said = make("p", { class: "recorder-said", role: "status" });
  const time = make("span", { class: "number recorder-time" }, "0:00");
  const button = make("button", { type: "button", class: "button recorder-button" });
  const meterEl = make("div");
  const meter = new Meter(meterEl, texts);
  el.classList.add("recorder");
  el.replaceChildren(make("div", { class: "recorder-row" }, button, time), meterEl, said);

  /** @param {"on" | "off"} state */
  const show = (state) => {
    button.dataset.state = state;
    button.textContent = state === "on" ? texts.stop : texts.record;
    button.setAttribute("aria-pressed", String(state === "on"));
    onState?.(state);
  };
  /** @param {string} word */
  const done = (word) => {
    const blob = recorder.stop();
    recorder.close();
    meter.reset();
    show("off");
    said.textContent = [word, blob && fill(texts.recorded, { time: clock(recorder.seconds) })]
      .filter(Boolean)
      .join(" ");
    if (blob) onDone(blob, { seconds: recorder.seconds, rateHz: recorder.rateHz });
  };
  button.addEventListener("click", async () => {
    if (recorder.recording) return done("");
    if (recorder.context) return undefined;
    said.textContent = "";
    try {
      await recorder.open();
    } catch (error) {
      said.textContent = whyNot(error, texts);
      return undefined;
    }
    recorder.record();
    return show("on");
  });
  recorder.addEventListener("block", (event) => {
    meter.show(heardIn(event));
    if (recorder.recording) time.textContent = clock(recorder.seconds);
  });
  recorder.addEventListener("lost", () => done(texts["error.lost"]));
  recorder.addEventListener("full", () => done(texts.full));
  window.addEventListener("pagehide", () => recorder.close());
  show("off");
  return recorder;
}

