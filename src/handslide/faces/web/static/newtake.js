// The page that records a take: microphone, count-in, drone, live view, and what then becomes of
// the recording.

import { LiveSocket, LiveView, detailOf } from "/static/liveview.js";
import { measureAt } from "/static/player.js";
import { Meter, Recorder, clock, heardIn, whyNot } from "/static/recorder.js";
import { around, byId, complain, fill, handed, texts as textsOf } from "/static/shell.js";
import { Slide } from "/static/slide.js";
import { Desk, justHz, midiHz } from "/static/tone.js";

const FIRST_S = 0.3; // from the button to the first click of the count-in

/** @typedef {"idle" | "listening" | "counting" | "recording" | "done"} PageState */

/** @param {string} id of an input or a list */
const field = (id) => /** @type {HTMLInputElement | HTMLSelectElement} */ (byId(id));
/** @param {string} id */
const checked = (id) => byId(id, HTMLInputElement).checked;
/** @param {string} id */
const button = (id) => byId(id, HTMLButtonElement);

class Page {
  /** @param {HTMLElement} root */
  constructor(root) {
    this.texts = textsOf("recording-texts");
    /** @type {Rig} */
    this.rig = handed("rig");
    this.root = root;
    this.student = Number(root.dataset.student);
    this.stand = root.dataset.stand ? Number(root.dataset.stand) : null;
    /** @type {PageState} */
    this.state = "idle";
    this.recorder = new Recorder();
    /** @type {LiveSocket | null} */
    this.socket = null;
    /** @type {Desk | null} */
    this.desk = null;
    /** @type {import("/static/tone.js").Voice | null} */
    this.drone = null;
    /** @type {import("/static/tone.js").Voice[]} of the count-in */
    this.clicks = [];
    this.counting = 0;
    this.opening = this.sending = false;
    /** @type {Blob | null} */
    this.blob = null;
    this.url = "";
    const names = new Map(this.rig.notes.map(({ midi, name }) => [midi, name]));
    const slide = new Slide(byId("slide"), this.rig.horn, textsOf("slide-texts"));
    this.view = new LiveView(root, slide, names, this.texts);
    this.meter = new Meter(byId("meter"), this.texts);
    this.notes();
    this.buttons();
    this.recorder.addEventListener("block", (event) => this.block(heardIn(event)));
    this.recorder.addEventListener("lost", () => this.stop(this.texts["error.lost"]));
    this.recorder.addEventListener("full", () => this.stop(this.texts.full));
    window.addEventListener("beforeunload", (event) => {
      if (this.state === "recording" || (this.state === "done" && !this.sending)) {
        event.preventDefault();
      }
    });
    window.addEventListener("pagehide", () => this.quiet());
    this.become("idle");
    this.beatOfPart();
  }

  // The notes in the lists of the aim and of the drone.
  notes() {
    for (const id of ["aim", "drone-note", "drone-root"]) {
      const list = byId(id);
      for (const { midi, name } of this.rig.notes) list.append(new Option(name, String(midi)));
    }
    // B♭2 and its like: the second partial of the closed slide is where most players tune.
    const usual = this.rig.notes.find(({ midi }) => midi === 46) ?? this.rig.notes[12];
    field("drone-note").value = field("drone-root").value = String(usual?.midi ?? "");
  }

  buttons() {
    byId("record").addEventListener("click", () => this.toggle());
    byId("listen").addEventListener("click", () => this.toggleListening());
    byId("aim").addEventListener("change", () => this.socket?.aim(this.aim));
    byId("drone").addEventListener("click", () => this.toggleDrone());
    for (const id of ["drone-note", "drone-root", "drone-tuned"]) {
      byId(id).addEventListener("change", () => this.moveDrone());
    }
    byId("drone-volume").addEventListener("input", () => this.desk?.setVolume(this.volume));
    byId("send").addEventListener("click", () => this.send());
    byId("discard").addEventListener("click", () => this.discard());
    document.addEventListener("keydown", (event) => {
      if (event.ctrlKey || event.metaKey || event.altKey || event.repeat) return;
      if (event.key.toLowerCase() !== "r") return;
      if (around(event, "input, select, textarea")) return;
      if (this.state !== "done") this.toggle();
    });
  }

  get aim() {
    return field("aim").value ? Number(field("aim").value) : null;
  }

  get volume() {
    return Number(field("drone-volume").value) / 100;
  }

  // Tempo and measure of the part, for the count-in.
  async beatOfPart() {
    if (this.stand === null) return;
    try {
      const answer = await fetch(`/stands/${this.stand}/route`, {
        headers: { Accept: "application/json" },
      });
      const route = await answer.json();
      const { count, beat_s: beat } = measureAt(route.beats, route.beats[0][0]);
      field("count-tempo").value = String(Math.round(60 / beat));
      field("count-beats").value = String(count);
    } catch {
      // The fields keep what they have.
    }
  }

  /** @param {PageState} state */
  become(state, said = "") {
    this.state = state;
    this.root.dataset.state = state;
    const record = button("record");
    const on = state === "recording" || state === "counting";
    record.dataset.state = on ? "on" : "off";
    record.setAttribute("aria-pressed", String(on));
    record.textContent = on ? this.texts.stop : this.texts.record;
    record.disabled = state === "done";
    const listen = button("listen");
    listen.textContent = this.recorder.context ? this.texts.listen_off : this.texts.listen;
    listen.disabled = on || state === "done";
    byId("after").hidden = state !== "done";
    byId("said").textContent = said;
  }

  async open() {
    if (this.recorder.context) return true;
    try {
      await this.recorder.open();
    } catch (error) {
      byId("said").textContent = whyNot(error, this.texts);
      return false;
    }
    this.view.clear();
    this.socket = new LiveSocket({
      rate_hz: this.recorder.rateHz,
      student: this.student,
      stand: this.stand,
      aim: this.aim,
    });
    this.socket.addEventListener("heard", (event) => this.view.show(detailOf(event)));
    this.socket.addEventListener("state", (event) => this.liveState(detailOf(event)));
    return true;
  }

  /** @param {import("/static/liveview.js").LiveState} live */
  liveState({ state, said }) {
    const words = { open: "", lost: this.texts.live_lost, over: said || this.texts.live_over };
    const place = byId("live-said");
    place.textContent = words[state];
    if (state === "over" && this.state === "recording") {
      place.textContent += ` ${this.texts.recording_goes_on}`;
    }
    if (state !== "open") this.view.clear();
  }

  // Lets go of microphone, server and all sound.
  quiet() {
    clearTimeout(this.counting);
    this.clicks.forEach((click) => click.stop());
    this.clicks = [];
    this.socket?.end();
    this.socket = null;
    this.recorder.close();
    this.view.silent();
    this.meter.reset();
    this.stopDrone();
  }

  async toggleListening() {
    if (this.recorder.context) {
      this.quiet();
      this.become("idle");
    } else if (await this.open()) {
      this.become("listening");
    }
  }

  async toggle() {
    if (this.state === "recording") return this.stop("");
    if (this.state === "counting") {
      this.quiet();
      return this.become("idle");
    }
    if (this.opening) return undefined;
    this.opening = true;
    const open = await this.open();
    this.opening = false;
    if (!open) return undefined;
    byId("time").textContent = clock(0);
    if (checked("count-in")) return this.count();
    return this.record();
  }

  async count() {
    const beats = Math.max(1, Math.min(16, Number(field("count-beats").value) || 4));
    const beat = 60 / Math.max(20, Math.min(300, Number(field("count-tempo").value) || 80));
    const desk = await this.sound();
    const first = desk.context.currentTime + FIRST_S;
    this.clicks = Array.from({ length: beats }, (_, k) => desk.click(first + k * beat, k === 0));
    this.become("counting");
    /** @param {number} k */
    const wait = (k) => {
      const due = first + k * beat - desk.context.currentTime;
      this.counting = setTimeout(() => {
        if (this.state !== "counting") return;
        if (k === beats) this.record();
        else {
          byId("time").textContent = String(k + 1);
          wait(k + 1);
        }
      }, Math.max(0, 1000 * due));
    };
    wait(0);
  }

  record() {
    this.recorder.record();
    this.become("recording");
  }

  /** @param {string} said */
  stop(said) {
    const blob = this.recorder.stop();
    const seconds = this.recorder.seconds;
    this.quiet();
    if (!blob) return this.become("idle", said || this.texts.nothing);
    this.blob = blob;
    this.url = URL.createObjectURL(blob);
    byId("hear", HTMLAudioElement).src = this.url;
    const recorded = fill(this.texts.recorded, { time: clock(seconds) });
    this.become("done", `${said} ${recorded}`.trim());
    byId("send").focus();
    return undefined;
  }

  /** @param {SoundBlock} detail */
  block(detail) {
    this.meter.show(detail);
    this.socket?.send(detail.block.buffer);
    if (this.state === "recording") byId("time").textContent = clock(this.recorder.seconds);
  }

  discard() {
    URL.revokeObjectURL(this.url);
    byId("hear").removeAttribute("src");
    this.blob = null;
    this.recorder.clear();
    byId("time").textContent = clock(0);
    this.become("idle", this.texts.discarded);
    byId("record").focus();
  }

  async send() {
    if (this.sending || !this.blob) return;
    const form = new FormData();
    form.append("student", String(this.student));
    if (this.stand !== null) form.append("stand", String(this.stand));
    form.append("title", field("title").value);
    form.append("source", "microphone");
    form.append("audio", this.blob, "take.wav");
    const press = byId("send");
    this.sending = true;
    press.classList.add("busy");
    try {
      const answer = await fetch("/takes", {
        method: "POST",
        body: form,
        headers: { Accept: "application/json" },
      });
      if (answer.ok) {
        location.assign(answer.url);
        return;
      }
      const data = await answer.json().catch(() => null);
      complain(data?.error ?? undefined);
    } catch {
      complain();
    }
    this.sending = false;
    press.classList.remove("busy");
  }

  // The drone

  async sound() {
    const desk = (this.desk ??= new Desk(new AudioContext(), this.volume));
    if (desk.context.state === "suspended") await desk.context.resume();
    return desk;
  }

  get droneHz() {
    const midi = Number(field("drone-note").value);
    if (field("drone-tuned").value === "equal") return midiHz(midi, this.rig.a4_hz);
    return justHz(midi, Number(field("drone-root").value), this.rig.a4_hz);
  }

  async toggleDrone() {
    if (this.drone) return this.stopDrone();
    const desk = await this.sound();
    this.drone = desk.drone(this.droneHz);
    this.showDrone();
    return undefined;
  }

  moveDrone() {
    byId("drone-root-field").hidden = field("drone-tuned").value === "equal";
    if (!this.drone || !this.desk) return;
    this.drone.stop();
    this.drone = this.desk.drone(this.droneHz);
  }

  stopDrone() {
    this.drone?.stop();
    this.drone = null;
    this.showDrone();
  }

  showDrone() {
    const press = byId("drone");
    press.textContent = this.drone ? this.texts.drone_off : this.texts.drone_on;
    press.setAttribute("aria-pressed", String(Boolean(this.drone)));
  }
}

/** @type {NodeListOf<HTMLFormElement>} */
const forms = document.querySelectorAll("form[data-at-once]");
for (const form of forms) {
  form.addEventListener("change", ({ target }) => {
    // Another student has other parts.
    const stand = form.elements.namedItem("stand");
    const student = target instanceof HTMLSelectElement && target.name === "student";
    if (student && stand instanceof HTMLSelectElement) stand.value = "";
    form.requestSubmit();
  });
  form.querySelector("button")?.setAttribute("hidden", "");
}
const root = document.getElementById("recording");
if (root) {
  root.hidden = false;
  new Page(root);
}
