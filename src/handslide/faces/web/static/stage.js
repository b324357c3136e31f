// The stage: one key begins and stops a take; the music, the slide and one reading follow it; then
// the same page says how it was.

import { Drone } from "./drone.js";
import { piecesAt } from "./engraved.js";
import { HeardMusic } from "./heard.js";
import { LiveSocket, detailOf } from "./liveview.js";
import { NoteSound } from "./notesound.js";
import { around, byId, handed, isTyping, texts as textsOf } from "./page.js";
import { Pages } from "./pages.js";
import { Player, measureAt } from "./player.js";
import { Reading } from "./reading.js";
import { Meter, Recorder, clock, heardIn, whyNot } from "./recorder.js";
import { heardByLink, heardByStudio } from "./sendtake.js";
import { ask, complain } from "./shell.js";
import { Slide } from "./slide.js";
import { fill, number } from "./words.js";

const FIRST_S = 0.3; // from the button to the first click of the count-in
const LATE_S = 0.6; // the live view is so far behind what sounds
const [SLOWEST, FASTEST] = [0.25, 2]; // beside the part's tempo

/**
 * @typedef {"ready" | "listening" | "counting" | "playing" | "recording" | "late" | "nomic" | "done" |
 *   "sending" | "report"} PageState
 * @typedef {import("./heard.js").HeardNote & {
 *   row: number, off_mm: number | null, start_s: number | null, end_s: number | null, name: string, words: string,
 * }} ReportNote
 * @typedef {{
 *   on_music: boolean, summary: string, hits: number, notes: ReportNote[],
 *   take?: number, stand?: number | null, sound?: boolean,
 * }} Report what a tablet gets has no numbers of the studio, and its sound is the tablet's own
 */

/** @param {string} id of an input or a list */
const field = (id) => /** @type {HTMLInputElement | HTMLSelectElement} */ (byId(id));

class Stage {
  constructor() {
    this.root = byId("recording");
    this.texts = {
      ...textsOf("recording-texts"), ...textsOf("stage-texts"), ...textsOf("guest-texts"),
    };
    /** @type {Rig} */
    this.rig = handed("rig");
    // A tablet doesn't know whose part it shows: its link does.
    this.guest = this.root.dataset.student === undefined;
    this.student = Number(this.root.dataset.student ?? 0);
    this.stand = this.root.dataset.stand ? Number(this.root.dataset.stand) : null;
    this.records = this.root.dataset.records !== undefined;
    /** @type {PageState} */
    this.state = "ready";
    this.recorder = new Recorder();
    /** @type {LiveSocket | null} */
    this.socket = null;
    this.sent = 0; // samples since the live view is open
    /** @type {import("./tone.js").Voice[]} of the count-in */
    this.clicks = [];
    this.counting = 0;
    this.opening = false;
    /** @type {Blob | null} */
    this.blob = null;
    this.url = "";
    /** @type {Player | null} there is one as soon as the part was played */
    this.player = null;
    /** @type {Route | null} */
    this.route = null;
    this.first = 0; // the written note that it begins with
    /** @type {Report | null} */
    this.report = null;
    this.names = new Map(this.rig.notes.map(({ midi, name }) => [midi, name]));
    for (const { midi, name } of this.rig.notes) byId("aim").append(new Option(name, String(midi)));
    const slide = new Slide(byId("slide"), this.rig.horn, textsOf("slide-texts"));
    const [level, upright] = document.querySelectorAll(".stage-lens .slide-lens");
    slide.lens(level, document.querySelector(".slide-cone"));
    slide.lens(upright);
    this.slide = slide;
    const reading = document.querySelector(".reading");
    this.reading = new Reading(/** @type {HTMLElement} */ (reading), slide, this.texts);
    this.meter = new Meter(byId("meter"), this.texts);
    this.drone = new Drone(this.rig, this.texts);
    this.sound = new NoteSound(byId("hear", HTMLAudioElement));
    this.buttons();
    this.keys();
    this.recorder.addEventListener("block", (event) => this.block(heardIn(event)));
    this.recorder.addEventListener("lost", () => this.stop(this.texts["error.lost"]));
    this.recorder.addEventListener("full", () => this.stop(this.texts.full));
    window.addEventListener("beforeunload", (event) => {
      if (["recording", "late", "done", "sending"].includes(this.state)) event.preventDefault();
    });
    window.addEventListener("pagehide", () => this.quiet());
    document.addEventListener("hs:ended", () => this.end());
    /** @type {HeardMusic | null} */
    this.music = null;
    /** @type {Pages | null} */
    this.pages = null;
    this.become("ready");
    const score = document.getElementById("score");
    if (score) this.load(score);
  }

  // The part's notes, and its music as it comes.
  /** @param {HTMLElement} score */
  async load(score) {
    const music = (this.music = new HeardMusic(score, piecesAt(`${score.dataset.url}/music`), (i) => this.pick(i)));
    this.pages = new Pages(/** @type {Element} */ (score.parentElement), music);
    score.addEventListener("keydown", (event) => {
      const step = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
      if (!step) return;
      event.preventDefault();
      this.step(step);
    });
    const [route, drawn] = await Promise.allSettled([
      /** @type {Promise<Route>} */ (ask(`${score.dataset.url}/route`)),
      music.load(),
    ]);
    if (drawn.status === "rejected") {
      score.textContent = fill(textsOf().no_music, { why: drawn.reason.message });
    }
    if (route.status === "rejected") return;
    this.route = route.value;
    music.setNotes(this.route.notes);
    this.beats();
    this.begins(this.route.played[0]?.i ?? 0);
  }

  ownTempo = 80; // the part's, in beats a minute

  // Tempo and measure of the part, for the count-in.
  beats() {
    const beats = this.route?.beats;
    if (!beats?.length) return;
    const { count, beat_s: beat } = measureAt(beats, beats[0][0]);
    this.ownTempo = Math.round(60 / beat);
    field("count-tempo").value = String(this.ownTempo);
    field("count-beats").value = String(count);
    if (this.state === "ready") this.become("ready");
  }

  buttons() {
    byId("go").addEventListener("click", () => this.go());
    byId("listen").addEventListener("click", () => this.toggleListening());
    byId("aim").addEventListener("change", () => {
      this.reading.followed = this.follows;
      this.socket?.aim(this.aim);
    });
    byId("play").addEventListener("click", () => this.play());
    byId("discard").addEventListener("click", () => this.discard());
    for (const id of ["hear-part", "hear-instead"]) {
      document.getElementById(id)?.addEventListener("click", () => this.playPart());
    }
    document.getElementById("send-instead")?.addEventListener("click", () => {
      byId("controls", HTMLDialogElement).showModal();
      byId("file").focus();
    });
    const controls = byId("controls", HTMLDialogElement);
    byId("more").addEventListener("click", () => {
      controls.showModal();
      this.devices();
    });
    // Space is for the one key again.
    controls.addEventListener("close", () => byId("go").focus());
    byId("hear").addEventListener("pause", () => this.played());
    const form = document.getElementById("who-form");
    if (!(form instanceof HTMLFormElement)) return;
    form.addEventListener("change", ({ target }) => {
      // Another student has other parts.
      if (target === byId("who")) field("what").value = "";
      form.requestSubmit();
    });
  }

  keys() {
    document.addEventListener("keydown", (event) => {
      if (event.ctrlKey || event.metaKey || event.altKey || event.repeat) return;
      if (isTyping(event) || document.querySelector("dialog[open]")) return;
      // A key that has the focus is pressed by Space anyway.
      if (event.key === " " && !around(event, "button, a, summary")) {
        event.preventDefault();
        this.go();
      } else if (event.key === "Escape") document.getElementById("leave")?.click();
      else if (event.key.toLowerCase() === "l") this.toggleListening();
      else if (event.key.toLowerCase() === "m") this.playPart();
    });
  }

  /** @returns {number | null} */
  get aim() {
    return field("aim").value ? Number(field("aim").value) : null;
  }

  /** Whether the part's own notes are the measure. */
  get follows() {
    return this.music !== null && this.aim === null;
  }

  /** @param {PageState} state */
  become(state, said = "") {
    this.state = state;
    document.body.dataset.state = state;
    const listen = byId("listen", HTMLButtonElement);
    listen.textContent = state === "listening" ? this.texts.listen_off : this.texts.listen;
    listen.setAttribute("aria-pressed", String(state === "listening"));
    listen.disabled = !["ready", "listening", "nomic", "report"].includes(state);
    byId("go", HTMLButtonElement).disabled = state === "sending";
    byId("said").textContent = said;
    if (state === "ready") this.ready(said);
  }

  /** @param {string} said */
  ready(said) {
    const beats = field("count-beats").value;
    const say = [said, this.root.dataset.keeps].filter(Boolean).join(" ");
    if (byId("count-in", HTMLInputElement).checked) {
      this.reading.put({ sign: "none", n: beats, unit: this.texts.beats, say });
    } else this.reading.put({ sign: "none", unit: "", say });
  }

  // Choosing where it begins, and looking at notes afterwards

  /** @param {number} i a written note that was clicked */
  pick(i) {
    if (this.report) this.look(i, true);
    else if (["ready", "nomic", "listening"].includes(this.state)) this.begins(i);
  }

  /** @param {number} by */
  step(by) {
    const last = (this.route?.notes.length ?? 0) - 1;
    const here = this.report ? (this.music?.selected ?? -1) : this.first;
    const i = Math.max(0, Math.min(last, here + by));
    if (this.report) this.look(i, false);
    else this.pick(i);
  }

  /** @param {number} i the written note that it begins with */
  begins(i) {
    this.first = i;
    this.socket?.from(i);
    this.music?.forget();
    this.at(i, null);
  }

  /**
   * The place in the part: note i sounds, or is the next to sound.
   * @param {number | null} i
   * @param {number | null} next
   */
  at(i, next) {
    const note = i === null ? null : this.route?.notes[i];
    const coming = next === null ? null : (this.route?.notes[next] ?? null);
    this.music?.cursor(i);
    if (i !== null) this.pages?.show(i, next);
    if (!note) return;
    this.reading.aim(note, note.name, coming);
    byId("where").textContent = fill(this.texts.measure, { measure: note.measure });
  }

  // Listening

  async open() {
    if (this.recorder.context) return true;
    try {
      await this.recorder.open(field("device").value);
    } catch (error) {
      const say = whyNot(error, this.texts);
      this.become("nomic", say);
      this.reading.put({ sign: "gone", unit: this.texts.no_mic, say });
      return false;
    }
    this.sent = 0;
    this.reading.followed = this.follows;
    this.socket = new LiveSocket({
      rate_hz: this.recorder.rateHz,
      student: this.student,
      stand: this.stand,
      aim: this.aim,
      from: this.first,
    });
    this.socket.addEventListener("heard", (event) => this.hear(detailOf(event)));
    this.socket.addEventListener("state", (event) => this.live(detailOf(event)));
    return true;
  }

  /** @param {import("./liveview.js").LiveState} live */
  live({ state, said }) {
    this.sent = 0;
    if (state === "open") return;
    const goes = this.recorder.recording ? ` ${this.texts.recording_goes_on}` : "";
    const words = state === "lost" ? this.texts.live_lost : `${said || this.texts.live_over}${goes}`;
    byId("said").textContent = words;
    this.reading.put({ sign: "gone", unit: this.texts.not_heard, say: words });
    this.reading.move(null);
  }

  /** @param {HeardMessage} message */
  hear(message) {
    if (!["listening", "recording", "late"].includes(this.state)) return;
    const behind = this.sent / this.recorder.rateHz - message.t > LATE_S;
    if (this.state === "recording" && behind) this.become("late");
    if (this.state === "late") {
      if (!behind) this.become("recording");
      else {
        this.reading.put({ sign: "wait", unit: this.texts.wait, say: this.texts.say_late });
        this.reading.move(null);
        return;
      }
    }
    const { part, place } = message;
    if (!this.follows || !part) {
      this.reading.aim(place, message.note ?? "");
      this.reading.hear(message, place);
      return;
    }
    this.music?.tell(message.passed);
    if (part.state === "at" && part.i !== null) this.at(part.i, part.next);
    if (part.state === "lost") this.music?.cursor(null);
    const note = part.i === null ? null : (this.route?.notes[part.i] ?? null);
    this.reading.hear(message, note);
  }

  /** @param {SoundBlock} detail */
  block(detail) {
    this.meter.show(detail);
    if (this.socket?.send(detail.block.buffer)) this.sent += detail.block.length;
    if (this.recorder.recording) byId("time").textContent = clock(this.recorder.seconds);
  }

  // Lets go of microphone, server and all sound.
  quiet() {
    this.player?.stop();
    clearTimeout(this.counting);
    this.clicks.forEach((click) => click.stop());
    this.clicks = [];
    this.socket?.end();
    this.socket = null;
    this.recorder.close();
    this.meter.reset();
    this.drone.stop();
    this.reading.move(null);
  }

  async toggleListening() {
    if (this.state === "listening") {
      this.quiet();
      this.become("ready");
      return;
    }
    if (!["ready", "nomic", "report"].includes(this.state) || this.opening) return;
    this.anew();
    this.opening = true;
    if (await this.open()) {
      this.become("listening");
      this.reading.silent();
    }
    this.opening = false;
  }

  // The inputs by name, once the browser tells their names.
  async devices() {
    const list = field("device");
    const found = (await navigator.mediaDevices?.enumerateDevices?.()) ?? [];
    const chosen = list.value;
    while (list.children.length > 1) list.lastElementChild?.remove();
    for (const { kind, deviceId, label } of found) {
      if (kind === "audioinput" && deviceId && label && deviceId !== "default") {
        list.append(new Option(label, deviceId));
      }
    }
    list.value = chosen;
    if (list.value !== chosen) list.value = "";
  }

  // The one key

  async go() {
    if (this.state === "done") return this.send();
    if (this.state === "recording" || this.state === "late") return this.stop("");
    if (this.state === "counting") {
      this.quiet();
      return this.become("ready");
    }
    if (this.state === "playing") return this.player?.stop();
    if (!this.records) return this.toggleListening();
    if (this.opening || this.state === "sending") return undefined;
    this.anew();
    this.opening = true;
    const open = await this.open();
    this.opening = false;
    if (!open) return undefined;
    byId("time").textContent = clock(0);
    if (byId("count-in", HTMLInputElement).checked) return this.count();
    return this.record();
  }

  // The part, played by the studio: its sound, the music and the slide go along

  playPart() {
    const before = this.state;
    if (before === "playing") return this.player?.stop();
    if (!["ready", "listening", "nomic", "report"].includes(before) || this.opening) return undefined;
    if (!this.route?.played.length) return undefined;
    if (before === "listening") this.quiet();
    byId("hear", HTMLAudioElement).pause();
    const shown = this.reading.shown;
    const after = () => {
      this.at(this.first, null);
      this.become(before === "listening" ? "ready" : before);
      if (this.report) this.music?.cursor(null);
      if (shown && this.state !== "ready") this.reading.put(shown);
    };
    const player = (this.player ??= this.newPlayer());
    this.ended = after;
    player.setRoute(this.route);
    player.setStart(this.report ? (this.music?.selected ?? this.first) : this.first);
    player.options.countIn = byId("count-in", HTMLInputElement).checked;
    player.setRate(Math.max(SLOWEST, Math.min(FASTEST, this.countTempo / this.ownTempo)));
    this.become("playing");
    this.reading.aim(null, "");
    return player.play();
  }

  ended = () => {};

  newPlayer() {
    const player = new Player();
    player.on("move", ({ note, ms }) => this.slide.show(note ?? null, { ms }));
    player.on("cursor", ({ i }) => this.playsAt(i));
    player.on("state", ({ state, counting }) => {
      if (state === "stopped") {
        this.ended();
        return;
      }
      const beats = this.route ? measureAt(this.route.beats, 0).count : 0;
      const unit = fill(this.texts.count_of, { beats });
      if (counting) this.reading.put({ sign: "none", n: number(counting), unit, say: "" });
    });
    return player;
  }

  /** @param {number | null} i the written note that begins to sound */
  playsAt(i) {
    const note = i === null ? null : this.route?.notes[i];
    if (i === null || !note || this.state !== "playing") return;
    const rows = this.route?.played ?? [];
    const next = rows[rows.findIndex((row) => row.i === i) + 1]?.i ?? null;
    this.music?.cursor(i);
    this.pages?.show(i, next);
    byId("where").textContent = fill(this.texts.measure, { measure: note.measure });
    this.reading.put({ sign: "none", n: note.mark, unit: note.name, say: note.words ?? "" });
  }

  // A new take: what was heard of the last is wiped away.
  anew() {
    this.drop();
    this.report = null;
    this.music?.forget();
    this.music?.select(null);
    this.at(this.first, null);
  }

  get countTempo() {
    return Math.max(20, Math.min(300, Number(field("count-tempo").value) || 80));
  }

  async count() {
    const beats = Math.max(1, Math.min(16, Number(field("count-beats").value) || 4));
    const beat = 60 / this.countTempo;
    const desk = await this.drone.sound();
    const first = desk.context.currentTime + FIRST_S;
    this.clicks = Array.from({ length: beats }, (_, k) => desk.click(first + k * beat, k === 0));
    this.become("counting");
    this.reading.put({ sign: "none", unit: this.texts.beats, say: "" });
    /** @param {number} k */
    const wait = (k) => {
      const due = first + k * beat - desk.context.currentTime;
      this.counting = setTimeout(() => {
        if (this.state !== "counting") return;
        if (k === beats) this.record();
        else {
          const n = number(k + 1);
          this.reading.put({ sign: "none", n, unit: fill(this.texts.count_of, { beats }), say: "" });
          wait(k + 1);
        }
      }, Math.max(0, 1000 * due));
    };
    wait(0);
  }

  record() {
    this.socket?.from(this.first);
    this.recorder.record();
    this.become("recording");
    this.reading.silent();
  }

  /** @param {string} said */
  stop(said) {
    const blob = this.recorder.stop();
    const seconds = this.recorder.seconds;
    this.quiet();
    if (!blob) return this.become("ready", said || this.texts.nothing);
    this.blob = blob;
    this.url = URL.createObjectURL(blob);
    byId("hear", HTMLAudioElement).src = this.url;
    const words = [said, fill(this.texts.recorded, { time: clock(seconds) })].filter(Boolean).join(" ");
    this.become("done", words);
    this.reading.put({ sign: "none", n: clock(seconds), unit: "", say: words });
    return undefined;
  }

  async play() {
    const audio = byId("hear", HTMLAudioElement);
    if (audio.paused) {
      byId("play").textContent = this.texts.pause;
      byId("play").setAttribute("aria-pressed", "true");
      await audio.play().catch(() => this.played());
    } else audio.pause();
  }

  played() {
    byId("play").textContent = this.texts.hear;
    byId("play").setAttribute("aria-pressed", "false");
  }

  // A link that has ended lets nothing go on.
  end() {
    this.quiet();
    this.drop();
    this.become("ready");
  }

  // Lets the recording go that the page holds.
  drop() {
    byId("hear", HTMLAudioElement).pause();
    URL.revokeObjectURL(this.url);
    byId("hear").removeAttribute("src");
    this.blob = null;
    this.recorder.clear();
  }

  discard() {
    this.drop();
    byId("time").textContent = clock(0);
    this.become("ready", this.texts.discarded);
    this.anew();
    byId("go").focus();
  }

  async send() {
    if (!this.blob) return;
    const form = new FormData();
    if (!this.guest) {
      form.append("student", String(this.student));
      if (this.stand !== null) form.append("stand", String(this.stand));
      form.append("title", field("title").value);
      form.append("source", "microphone");
    }
    form.append("audio", this.blob, "take.wav");
    this.become("sending");
    /** @param {number} percent */
    const tell = (percent) => {
      const say = fill(this.texts.hearing, { percent: number(percent) });
      this.reading.put({ sign: "wait", unit: this.texts.wait, say });
    };
    try {
      this.show(await (this.guest ? heardByLink : heardByStudio)(form, tell));
    } catch (error) {
      const why = error instanceof Error ? error.message : "";
      complain(why ? fill(this.texts.broken, { why }) : undefined);
      this.become("done");
    }
  }

  // How it was

  /** @param {Report} report */
  show(report) {
    this.report = report;
    if (report.take !== undefined) {
      this.drop();
      if (report.sound) byId("hear", HTMLAudioElement).src = `/takes/${report.take}/audio`;
      byId("whole").setAttribute("href", `/takes/${report.take}`);
    }
    this.become("report");
    this.music?.forget();
    if (report.on_music) this.music?.tell(report.notes);
    this.music?.cursor(null);
    this.sums(report);
    byId("said").textContent = report.summary;
    byId("go").focus({ preventScroll: true });
  }

  /** @param {Report} report */
  sums({ hits, notes, summary: say }) {
    if (!notes.length) {
      this.reading.put({ sign: "gone", unit: this.texts.not_heard, say });
      return;
    }
    const unit = fill(this.texts.of, { count: number(notes.length) });
    this.reading.put({ sign: "hit", n: number(hits), unit, say });
  }

  /** Whether the notes of the report can be heard: from the studio, or what a tablet still holds. */
  get sounds() {
    return this.report?.take === undefined ? this.blob !== null : Boolean(this.report.sound);
  }

  /**
   * Looks at a note of the report: its place, where the slide was, its sound.
   * @param {number} i
   * @param {boolean} sounds
   */
  look(i, sounds) {
    const note = this.report?.on_music ? this.report.notes.find((one) => one.i === i) : undefined;
    const written = this.route?.notes[i];
    this.music?.select(i);
    this.pages?.show(i);
    if (!note || !written) return;
    this.reading.aim(written, written.name);
    const place = written.extension_mm;
    this.reading.move(note.off_mm === null || place === null ? null : place + note.off_mm);
    const { sign, mm, words } = note;
    /** @type {Record<string, string>} */
    const units = {
      hit: this.texts.in_place, in: this.texts.mm_in, out: this.texts.mm_out,
      gone: this.texts.not_heard, other: this.texts.other,
    };
    const n = mm === null ? undefined : number(mm);
    this.reading.put({ sign, n, unit: units[sign], say: words });
    byId("said").textContent = [n, units[sign], words].filter(Boolean).join(" ");
    if (sounds && this.sounds) this.sound.play(note.start_s, note.end_s);
  }
}

new Stage();
