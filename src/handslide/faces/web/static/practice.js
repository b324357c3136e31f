// Sounds begin at a moderate volume. A loop is played by the browser's audio clock, since an audio
// element leaves a gap at its seam.
import { complain } from "./shell.js";
import { MODERATE } from "./tone.js";

const RATE_HZ = 48000; // that of the file: resampled, a loop would have a seam
const FADE_S = 0.3;

let volume = MODERATE;
/** @type {{ context: AudioContext, level: GainNode, fade: GainNode } | null} */
let sounding = null;

/** @param {Document | Element} root */
function calm(root) {
  /** @type {NodeListOf<HTMLAudioElement>} */
  const loud = root.querySelectorAll("audio.calm:not([data-calmed])");
  for (const audio of loud) {
    audio.dataset.calmed = "yes";
    audio.volume = MODERATE;
  }
  /** @type {NodeListOf<HTMLElement>} */
  const loops = root.querySelectorAll(".loop:not([data-ready])");
  loops.forEach(takeOver);
}

/** @returns {HTMLElement | null} */
function loopSounding() {
  return document.querySelector('.loop:is([data-state="waiting"], [data-state="playing"])');
}

/**
 * Puts a button and a volume where the audio element is.
 * @param {HTMLElement} box
 */
function takeOver(box) {
  box.dataset.ready = "yes";
  box.querySelector("audio")?.setAttribute("hidden", "");
  const button = document.createElement("button");
  button.type = "button";
  button.className = "button";
  const label = document.createElement("label");
  const range = document.createElement("input");
  Object.assign(range, { type: "range", min: 0, max: 100, value: 100 * volume });
  range.autocomplete = "off";
  label.append(box.dataset.volume ?? "", range);
  box.append(button, label);
  show(box, "stopped");
  button.addEventListener("click", () => (box.dataset.state === "stopped" ? play(box) : stop(box)));
  range.addEventListener("input", () => {
    volume = Number(range.value) / 100;
    sounding?.level.gain.setTargetAtTime(volume, sounding.context.currentTime, 0.02);
  });
}

/**
 * @param {HTMLElement} box
 * @param {"stopped" | "waiting" | "playing"} state
 */
function show(box, state) {
  const button = box.querySelector("button");
  box.dataset.state = state;
  if (!button) return;
  button.textContent = (state === "stopped" ? box.dataset.play : box.dataset.stop) ?? "";
  button.classList.toggle("busy", state === "waiting");
}

/** @param {HTMLElement} box */
async function play(box) {
  const other = loopSounding();
  if (other) stop(other);
  show(box, "waiting");
  const context = new AudioContext({ sampleRate: RATE_HZ });
  // Apart, so that a change of the volume doesn't meet the fade that is on the clock.
  const level = context.createGain();
  const fade = context.createGain();
  level.gain.value = volume;
  const mine = (sounding = { context, level, fade });
  try {
    const answer = await fetch(box.dataset.src ?? "");
    if (!answer.ok) throw new Error(answer.statusText);
    const buffer = await context.decodeAudioData(await answer.arrayBuffer());
    if (sounding !== mine) return;
    const source = context.createBufferSource();
    Object.assign(source, { buffer, loop: true });
    fade.gain.setValueAtTime(0, context.currentTime);
    fade.gain.linearRampToValueAtTime(1, context.currentTime + FADE_S);
    source.connect(fade).connect(level).connect(context.destination);
    source.start();
    show(box, "playing");
  } catch {
    if (sounding !== mine) return;
    stop(box);
    complain();
  }
}

/** @param {HTMLElement} box */
function stop(box) {
  const was = sounding;
  sounding = null;
  show(box, "stopped");
  if (!was) return;
  was.fade.gain.cancelScheduledValues(0);
  was.fade.gain.setTargetAtTime(0, was.context.currentTime, FADE_S / 4);
  setTimeout(() => was.context.close(), 2000 * FADE_S);
}

calm(document);
// Where there is one drone, another takes over from it when it sounds.
/** @type {HTMLElement | null} */
let before = null;
document.addEventListener("htmx:beforeSwap", () => (before = loopSounding()));
document.addEventListener("htmx:afterSwap", (event) => {
  const gone = before && !before.isConnected ? before : null;
  if (gone) stop(gone);
  if (event.target instanceof Element) calm(event.target);
  /** @type {NodeListOf<HTMLElement>} */
  const shown = document.querySelectorAll(".loop");
  if (gone && shown.length === 1) play(shown[0]);
  before = null;
});
