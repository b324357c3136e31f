// The page that records a take: microphone, count-in, drone, live view, and what then becomes of
// the recording.

import { LiveSocket, LiveView } from "/static/liveview.js";
import { measureAt } from "/static/player.js";
import { Meter, Recorder, clock } from "/static/recorder.js";
import { complain, fill, texts as textsOf } from "/static/shell.js";
import { Slide } from "/static/slide.js";
import { Desk, justHz, midiHz } from "/static/tone.js";

const FIRST_S = 0.3; // from the button to the first click of the count-in

class Page {
  constructor(root) {
    this.texts = textsOf("recording-texts");
    this.rig = textsOf("rig");
    this.root = root;
    this.student = Number(root.dataset.student);
    this.stand = root.dataset.stand ? Number(root.dataset.stand) : null;
    this.el = (id) => document.getElementById(id);
    this.state = "idle"; // idle, listening, counting, recording, done
    this.recorder = new Recorder();
    const names = new Map(this.rig.notes.map(({ midi, name }) => [midi, name]));
    const slide = new Slide(this.el("slide"), this.rig.horn, textsOf("slide-texts"));
    this.view = new LiveView(root, slide, names, this.texts);
    this.meter = new Meter(this.el("meter"), this.texts);
    this.notes();
    this.buttons();
    this.recorder.addEventListener("block", ({ detail }) => this.block(detail));
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
      const list = this.el(id);
      for (const { midi, name } of this.rig.notes) list.append(new Option(name, midi));
    }
    // B♭2 and its like: the second partial of the closed slide is where most players tune.
    const usual = this.rig.notes.find(({ midi }) => midi === 46) ?? this.rig.notes[12];
    this.el("drone-note").value = this.el("drone-root").value = String(usual?.midi ?? "");
  }

  buttons() {
    this.el("record").addEventListener("click", () => this.toggle());
    this.el("listen").addEventListener("click", () => this.toggleListening());
    this.el("aim").addEventListener("change", () => this.socket?.aim(this.aim));
    this.el("drone").addEventListener("click", () => this.toggleDrone());
    for (const id of ["drone-note", "drone-root", "drone-tuned"]) {
      this.el(id).addEventListener("change", () => this.moveDrone());
    }
    this.el("drone-volume").addEventListener("input", () => this.desk?.setVolume(this.volume));
    this.el("send").addEventListener("click", () => this.send());
    this.el("discard").addEventListener("click", () => this.discard());
    document.addEventListener("keydown", (event) => {
      if (event.ctrlKey || event.metaKey || event.altKey || event.repeat) return;
      if (event.key.toLowerCase() !== "r") return;
      if (event.target.closest("input, select, textarea")) return;
      if (this.state !== "done") this.toggle();
    });
  }

  get aim() {
    return this.el("aim").value ? Number(this.el("aim").value) : null;
  }

  get volume() {
    return Number(this.el("drone-volume").value) / 100;
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
      this.el("count-tempo").value = Math.round(60 / beat);
      this.el("count-beats").value = count;
    } catch {
      // The fields keep what they have.
    }
  }

  become(state, said = "") {
    this.state = state;
    this.root.dataset.state = state;
    const record = this.el("record");
    const on = state === "recording" || state === "counting";
    record.dataset.state = on ? "on" : "off";
    record.setAttribute("aria-pressed", String(on));
    record.textContent = on ? this.texts.stop : this.texts.record;
    record.disabled = state === "done";
    const listen = this.el("listen");
    listen.textContent = this.recorder.context ? this.texts.listen_off : this.texts.listen;
    listen.disabled = on || state === "done";
    this.el("after").hidden = state !== "done";
    this.el("said").textContent = said;
  }

  async open() {
    if (this.recorder.context) return true;
    try {
      await this.recorder.open();
    } catch (error) {
      this.el("said").textContent = this.texts[`error.${error.key ?? "unsupported"}`];
      return false;
    }
    this.view.clear();
    this.socket = new LiveSocket({
      rate_hz: this.recorder.rateHz,
      student: this.student,
      stand: this.stand,
      aim: this.aim,
    });
    this.socket.addEventListener("heard", ({ detail }) => this.view.show(detail));
    this.socket.addEventListener("state", ({ detail }) => this.liveState(detail));
    return true;
  }

  liveState({ state, said }) {
    const words = { open: "", lost: this.texts.live_lost, over: said || this.texts.live_over };
    const place = this.el("live-said");
    place.textContent = words[state];
    if (state === "over" && this.state === "recording") {
      place.textContent += ` ${this.texts.recording_goes_on}`;
    }
    if (state !== "open") this.view.clear();
  }

  // Lets go of microphone, server and all sound.
  quiet() {
    clearTimeout(this.counting);
    this.clicks?.forEach((click) => click.stop());
    this.clicks = null;
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
    this.el("time").textContent = clock(0);
    if (this.el("count-in").checked) return this.count();
    return this.record();
  }

  async count() {
    const beats = Math.max(1, Math.min(16, Number(this.el("count-beats").value) || 4));
    const beat = 60 / Math.max(20, Math.min(300, Number(this.el("count-tempo").value) || 80));
    const desk = await this.sound();
    const first = desk.context.currentTime + FIRST_S;
    this.clicks = Array.from({ length: beats }, (_, k) => desk.click(first + k * beat, k === 0));
    this.become("counting");
    const wait = (k) => {
      const due = first + k * beat - desk.context.currentTime;
      this.counting = setTimeout(() => {
        if (this.state !== "counting") return;
        if (k === beats) this.record();
        else {
          this.el("time").textContent = String(k + 1);
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

  stop(said) {
    const blob = this.recorder.stop();
    const seconds = this.recorder.seconds;
    this.quiet();
    if (!blob) return this.become("idle", said || this.texts.nothing);
    this.blob = blob;
    this.url = URL.createObjectURL(blob);
    this.el("hear").src = this.url;
    const recorded = fill(this.texts.recorded, { time: clock(seconds) });
    this.become("done", `${said} ${recorded}`.trim());
    this.el("send").focus();
    return undefined;
  }

  block(detail) {
    this.meter.show(detail);
    this.socket?.send(detail.block.buffer);
    if (this.state === "recording") this.el("time").textContent = clock(this.recorder.seconds);
  }

  discard() {
    URL.revokeObjectURL(this.url);
    this.el("hear").removeAttribute("src");
    this.blob = null;
    this.recorder.clear();
    this.el("time").textContent = clock(0);
    this.become("idle", this.texts.discarded);
    this.el("record").focus();
  }

  async send() {
    if (this.sending) return;
    const form = new FormData();
    form.append("student", this.student);
    if (this.stand !== null) form.append("stand", this.stand);
    form.append("title", this.el("title").value);
    form.append("source", "microphone");
    form.append("audio", this.blob, "take.wav");
    const button = this.el("send");
    this.sending = true;
    button.classList.add("busy");
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
      complain(data?.error ?? document.body.dataset.lost);
    } catch {
      complain(document.body.dataset.lost);
    }
    this.sending = false;
    button.classList.remove("busy");
  }

  // The drone

  async sound() {
    this.context ??= new AudioContext();
    if (this.context.state === "suspended") await this.context.resume();
    this.desk ??= new Desk(this.context, this.volume);
    return this.desk;
  }

  get droneHz() {
    const midi = Number(this.el("drone-note").value);
    if (this.el("drone-tuned").value === "equal") return midiHz(midi, this.rig.a4_hz);
    return justHz(midi, Number(this.el("drone-root").value), this.rig.a4_hz);
  }

  async toggleDrone() {
    if (this.drone) return this.stopDrone();
    const desk = await this.sound();
    this.drone = desk.drone(this.droneHz);
    this.showDrone();
    return undefined;
  }

  moveDrone() {
    this.el("drone-root-field").hidden = this.el("drone-tuned").value === "equal";
    if (!this.drone) return;
    this.drone.stop();
    this.drone = this.desk.drone(this.droneHz);
  }

  stopDrone() {
    this.drone?.stop();
    this.drone = null;
    this.showDrone();
  }

  showDrone() {
    const button = this.el("drone");
    button.textContent = this.drone ? this.texts.drone_off : this.texts.drone_on;
    button.setAttribute("aria-pressed", String(Boolean(this.drone)));
  }
}

for (const form of document.querySelectorAll("form[data-at-once]")) {
  form.addEventListener("change", ({ target }) => {
    // Another student has other parts.
    if (target.name === "student" && form.elements.stand) form.elements.stand.value = "";
    form.requestSubmit();
  });
  form.querySelector("button").hidden = true;
}
const root = document.getElementById("recording");
if (root) {
  root.hidden = false;
  new Page(root);
}
