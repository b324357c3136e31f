// A part on a tablet: its music and slide, and on the stage what is heard. All that it asks for lies
// at addresses without numbers; which part is meant, the link knows.

import { LiveSocket, detailOf } from "/static/liveview.js";
import { Music } from "/static/music.js";
import { Meter, Recorder, clock, heardIn, whyNot } from "/static/recorder.js";
import { ask, byId, complain, fill, texts as textsOf } from "/static/shell.js";
import { Slide, readingOf } from "/static/slide.js";
import { number } from "/static/words.js";

const ENDED = [4403, 1012]; // the link has ended; the studio was closed, and its links with it
const AGAIN_MS = 4000;
const FAR_EVERY_MS = 250; // the large number changes no more often: so it can be read
const ASK_EVERY_MS = 700;

const score = byId("score");
const words = textsOf();
const music = new Music(score, "/music", (i) => select(i));
/** @type {Route | null} */
let route = null;
/** @type {number | null} */
let selected = null;
/** @type {Stage | null} */
let stage = null;

async function begin() {
  const [found, drawn] = await Promise.allSettled([ask("/route"), music.load()]);
  if (drawn.status === "rejected") {
    score.textContent = fill(words.no_music, { why: drawn.reason.message });
  }
  if (found.status === "rejected") return;
  const read = (route = /** @type {Route} */ (found.value));
  music.setNotes(read.notes);
  if (document.getElementById("far")) stage = new Stage(read.horn);
  else tell("hs:route", read);
}

/**
 * @template {"hs:route" | "hs:select"} K
 * @param {K} name
 * @param {DocumentEventMap[K]["detail"]} detail
 */
const tell = (name, detail) => document.dispatchEvent(new CustomEvent(name, { detail }));

/** @param {number} i */
function select(i) {
  const note = route?.notes[i];
  if (!note) return;
  selected = i;
  music.select(i);
  music.reveal(i);
  byId("said").textContent = [note.name, note.words ?? words.nothing].join(", ");
  stage?.aim(note);
  tell("hs:select", note);
}

score.addEventListener("keydown", (event) => {
  const step = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
  if (!step || !route) return;
  event.preventDefault();
  const last = route.notes.length - 1;
  select(selected === null ? 0 : Math.max(0, Math.min(last, selected + step)));
});
document.addEventListener("hs:ask", () => route && !stage && tell("hs:route", route));
document.addEventListener("hs:cursor", ({ detail: { i } }) => {
  music.cursor(i);
  if (i !== null) music.reveal(i);
});

// What is heard: one large number, the slide, and takes.
class Stage {
  /** @param {SlideHorn} horn */
  constructor(horn) {
    this.texts = { ...textsOf("recording-texts"), ...textsOf("guest-texts") };
    this.slideTexts = textsOf("slide-texts");
    this.slide = new Slide(byId("slide"), horn, this.slideTexts);
    const lens = byId("lens").querySelector(".slide-lens");
    if (lens) this.slide.lens(lens);
    this.recorder = new Recorder();
    /** @type {LiveSocket | null} */
    this.socket = null;
    /** @type {number | null} */
    this.midi = null;
    /** @type {Blob | null} */
    this.blob = null;
    this.shownAt = 0;
    this.place = "";
    const meter = document.getElementById("meter");
    this.meter = meter && new Meter(meter, this.texts);
    this.recorder.addEventListener("block", (event) => this.block(heardIn(event)));
    this.recorder.addEventListener("lost", () => this.lost());
    this.recorder.addEventListener("full", () => this.stop(this.texts.full));
    window.addEventListener("pagehide", () => this.quiet());
    this.on("listen", () => (this.recorder.context ? this.quiet() : this.open()));
    this.on("record", () => (this.recorder.recording ? this.stop("") : this.record()));
    this.on("send", () => this.send());
    this.on("discard", () => this.drop(this.texts.discarded));
    if (route?.notes.length) this.aimAt(route.notes[0]);
  }

  /**
   * @param {string} id of a button that this page may not have
   * @param {() => void} press
   */
  on(id, press) {
    document.getElementById(id)?.addEventListener("click", press);
  }

  /** @param {RouteNote} note */
  aim(note) {
    this.midi = note.midi;
    this.aimAt(note);
    this.socket?.aim(note.midi);
    byId("aim").textContent = note.name;
  }

  /**
   * The frame stands at a place, and so does the brass until it is heard where the slide is.
   * @param {NotePlace | null} place
   */
  aimAt(place) {
    if (!this.socket) this.slide.show(place, { ms: 350 });
    this.slide.target(place);
  }

  /** @param {string} text */
  say(text) {
    byId("heard").textContent = text;
  }

  async open() {
    if (this.recorder.context) return true;
    try {
      await this.recorder.open();
    } catch (error) {
      this.say(whyNot(error, this.texts));
      return false;
    }
    this.socket = new LiveSocket({
      rate_hz: this.recorder.rateHz, student: 0, stand: null, aim: this.midi,
    });
    this.socket.addEventListener("heard", (event) => this.show(detailOf(event)));
    this.socket.addEventListener("state", (event) => {
      /** @type {import("/static/liveview.js").LiveState} */
      const { state, said } = detailOf(event);
      this.say({ open: "", lost: this.texts.live_lost, over: said || this.texts.live_over }[state]);
    });
    this.listening(true);
    return true;
  }

  /** @param {boolean} on */
  listening(on) {
    byId("listen").textContent = on ? this.texts.listen_off : this.texts.listen;
  }

  quiet() {
    this.socket?.end();
    this.socket = null;
    this.recorder.close();
    this.meter?.reset();
    this.listening(false);
    this.far("none", "–");
    if (this.midi === null) byId("aim").textContent = "";
    this.slide.now(null);
  }

  /**
   * @param {"none" | "hit" | "in" | "out"} state
   * @param {string} large
   * @param {string} text
   */
  far(state, large, text = "") {
    byId("stage").dataset.state = state;
    byId("far").textContent = large;
    byId("way").textContent = text;
  }

  /** @param {HeardMessage} message */
  show({ place, slide_mm: at, note, tune }) {
    if (place && `${place.mark} ${place.extension_mm}` !== this.place) {
      this.place = `${place.mark} ${place.extension_mm}`;
      this.slide.target(place);
    }
    this.slide.now(at);
    if (performance.now() - this.shownAt < FAR_EVERY_MS) return;
    this.shownAt = performance.now();
    byId("aim").textContent = note ?? "";
    const should = place?.extension_mm ?? null;
    if (at === null || should === null) {
      // Silence, and what isn't sure, is told by no number.
      if (tune === "in_tune") this.far("hit", "●", this.slideTexts.in_place);
      else this.far("none", "–");
      return;
    }
    const { way, mm, words } = readingOf(2 * Math.round((at - should) / 2), this.slideTexts);
    this.far(way, way === "hit" ? "●" : number(mm), words);
  }

  /** @param {SoundBlock} detail */
  block(detail) {
    this.meter?.show(detail);
    this.socket?.send(detail.block.buffer);
    if (this.recorder.recording) byId("time").textContent = clock(this.recorder.seconds);
  }

  async record() {
    if (!(await this.open())) return;
    this.drop("");
    this.recorder.record();
    this.recording(true);
  }

  /** @param {boolean} on */
  recording(on) {
    const button = byId("record");
    button.dataset.state = on ? "on" : "off";
    button.textContent = on ? this.texts.stop : this.texts.record;
  }

  lost() {
    if (document.getElementById("record")) this.stop(this.texts["error.lost"]);
    else this.quiet();
  }

  /** @param {string} said */
  stop(said) {
    const blob = this.recorder.stop();
    this.quiet();
    this.recording(false);
    this.say(said || (blob ? "" : this.texts.nothing));
    if (!blob) return;
    this.blob = blob;
    byId("hear", HTMLAudioElement).src = URL.createObjectURL(blob);
    byId("after").hidden = false;
    byId("send").focus();
  }

  /** @param {string} said */
  drop(said) {
    if (!document.getElementById("after")) return;
    const hear = byId("hear", HTMLAudioElement);
    URL.revokeObjectURL(hear.src);
    hear.removeAttribute("src");
    byId("after").hidden = true;
    byId("time").textContent = "";
    byId("report").replaceChildren();
    this.blob = null;
    this.say(said);
  }

  async send() {
    if (!this.blob) return;
    const form = new FormData();
    form.append("audio", this.blob, "take.wav");
    byId("send", HTMLButtonElement).disabled = true;
    try {
      let state = await ask("/take", { method: "POST", body: form });
      this.drop("");
      while (!state.done) {
        this.say(fill(this.texts.hearing, { n: number(100 * state.share) }));
        await new Promise((go) => setTimeout(go, ASK_EVERY_MS));
        state = await ask("/take");
      }
      this.say("");
      const lines = state.words.map((/** @type {string} */ text) => {
        const line = document.createElement("li");
        line.textContent = text;
        return line;
      });
      byId("report").replaceChildren(...lines);
    } catch {
      // `ask` has said why; the recording is still there.
    }
    byId("send", HTMLButtonElement).disabled = false;
  }
}

// When the link ends, the part goes.

let over = false;
/** @type {WebSocket | null} */
let staying = null;

function end() {
  over = true;
  staying?.close();
  stage?.quiet();
  for (const each of document.querySelectorAll("header, main, .skip")) each.remove();
  document.title = "handslide";
  byId("ended").hidden = false;
}

function stay() {
  if (over) return;
  const scheme = location.protocol === "https:" ? "wss" : "ws";
  staying = new WebSocket(`${scheme}://${location.host}/here`);
  staying.addEventListener("close", ({ code }) => {
    if (over) return;
    if (ENDED.includes(code)) end();
    else setTimeout(stay, AGAIN_MS);
  });
}

const left = Date.parse(document.body.dataset.ends ?? "") - Date.now();
if (left > 0) setTimeout(end, left);
stay();
begin();
