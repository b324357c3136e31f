// The player of a page with #player and #slide, and the texts (player/texts.html): it sets itself up.
//   hs:route  {detail: route}   heard: what to play (again after each change of the route)
//   hs:select {detail: note}    heard: the slide goes there; play begins there
//   hs:range  {detail: {from, to} | null}  heard: only the notes with these written indices (both
//             included) are played and looped; null: all
//   hs:ask                      said: whoever has the route already is to say it again
//   hs:point  {detail: place | null}  heard: the slide shows a place that is looked at; null: no more
//   hs:ghost  {detail: mm | null}     heard: where the slide was in the last take
//   hs:cursor {detail: {i}}     said: written note i begins to sound; i null: nothing plays
// Keys, outside of fields: M or space plays and pauses.

import { texts as textsOf } from "./page.js";
import { Player } from "./player.js";
import { Slide } from "./slide.js";
import { MODERATE } from "./tone.js";
import { fill, make, number } from "./words.js";

const PLAY_SIGN =
  '<svg class="full" viewBox="0 0 24 24" aria-hidden="true"><path class="go" d="M7 4v16l13-8z"/><path class="wait" d="M6 4h4v16H6zM14 4h4v16h-4z"/></svg>';

/**
 * The controls.
 * @param {HTMLElement} el
 * @param {Player} player
 * @param {Texts} texts
 */
function controls(el, player, texts) {
  const label = make("span", { class: "play-words" }, texts.play);
  const play = make("button", { type: "button", class: "button play-key", "aria-keyshortcuts": "M Space" }, label);
  const stop = make("button", { type: "button", class: "button quiet", disabled: true, title: texts.not_playing, "data-why": texts.not_playing }, texts.stop);
  const said = make("span", { class: "sr", role: "status" });
  const buttons = make("div", { class: "player-buttons" }, play, stop);
  const checks = make("div", { class: "player-checks" });
  /** @type {[keyof Player["options"], string][]} */
  const choices = [
    ["countIn", texts.count_in], ["metronome", texts.metronome], ["loop", texts.loop],
  ];
  for (const [key, text] of choices) {
    const box = make("input", { type: "checkbox", name: key });
    box.checked = player.options[key];
    box.addEventListener("change", () => (player.options[key] = box.checked));
    checks.append(make("label", { class: "check" }, box, text));
  }
  const tempo = range("tempo", texts.tempo, 25, 200, 5, 100, (value) => {
    player.setRate(value / 100);
    return fill(texts.percent, { n: number(value) });
  });
  const volume = range("volume", texts.volume, 0, 100, 1, 100 * MODERATE, (value) => {
    player.setVolume(value / 100);
    return fill(texts.percent, { n: number(value) });
  });
  play.addEventListener("click", () => player.toggle());
  stop.addEventListener("click", () => player.stop());
  player.on("state", ({ state, counting }) => {
    const playing = state === "playing";
    label.textContent = counting
      ? fill(texts.counting, { n: counting })
      : playing ? texts.pause : state === "paused" ? texts.go_on : texts.play;
    play.setAttribute("aria-pressed", String(playing));
    stop.disabled = state === "stopped";
    el.dataset.state = state;
    if (!counting) said.textContent = texts[`said.${state}`];
  });
  play.setAttribute("aria-pressed", "false");
  el.dataset.state = "stopped";
  const hint = make("p", { class: "hint" }, texts.caution);
  const settings = make("div", { class: "player-settings" }, tempo, volume, checks, hint);
  // On a phone the settings are folded away.
  const summary = make("summary", {}, make("span", { class: "more-words" }, texts.more));
  const more = make("details", { class: "player-more" }, summary, settings);
  if (el.classList.contains("in-bar")) {
    menu(more, summary, settings, texts.more);
    play.insertAdjacentHTML("afterbegin", PLAY_SIGN);
  } else {
    const narrow = window.matchMedia("(max-width: 40rem)");
    const fold = () => (more.open = !narrow.matches);
    narrow.addEventListener("change", fold);
    fold();
  }
  el.replaceChildren(make("div", { class: "player" }, buttons, more, said));
}

/**
 * In the bar of a page the settings are one of its menus.
 * @param {HTMLElement} more
 * @param {HTMLElement} summary
 * @param {HTMLElement} settings
 * @param {string} title
 */
function menu(more, summary, settings, title) {
  more.classList.add("bar-more");
  summary.className = "key";
  summary.title = title;
  summary.insertAdjacentHTML("beforeend", '<svg aria-hidden="true"><use href="#sign-sliders"/></svg>');
  settings.classList.add("menu");
}

/**
 * @param {string} name
 * @param {string} label
 * @param {number} min
 * @param {number} max
 * @param {number} step
 * @param {number} value
 * @param {(value: number) => string} change takes the value over and says it
 */
function range(name, label, min, max, step, value, change) {
  const id = `player-${name}`;
  const input = make("input", { type: "range", id, min, max, step, value, autocomplete: "off" });
  const output = make("output", { for: id });
  const set = () => (output.textContent = change(Number(input.value)));
  input.addEventListener("input", set);
  set();
  return make("div", { class: "player-range" }, make("label", { for: id }, label), input, output);
}

const FIELDS = "input, select, textarea, [contenteditable]";
const TAKES_SPACE = "button, summary, a, audio, [role=button]";

/** @param {Player} player */
function keys(player) {
  document.addEventListener("keydown", (event) => {
    const at = event.target instanceof Element ? event.target : document.body;
    if (event.defaultPrevented || event.ctrlKey || event.metaKey || event.altKey) return;
    if (at.closest(FIELDS)) return;
    const space = event.key === " " && !at.closest(TAKES_SPACE);
    if (!space && event.key.toLowerCase() !== "m") return;
    event.preventDefault();
    if (!event.repeat) player.toggle();
  });
}

function begin() {
  const el = document.getElementById("player");
  if (!el) return;
  const player = new Player();
  const slideEl = document.getElementById("slide");
  /** @type {Slide | null} */
  let slide = null;
  /** @type {RouteNote | null} */
  let chosen = null;
  controls(el, player, textsOf("player-texts"));
  keys(player);
  document.addEventListener("hs:route", ({ detail: route }) => {
    player.setRoute(route);
    if (!slideEl) return;
    if (!slide) slide = new Slide(slideEl, route.horn, textsOf("slide-texts"));
    else if (JSON.stringify(slide.horn) !== JSON.stringify(route.horn)) slide.setHorn(route.horn);
    if (player.state !== "playing" && !slide.place && route.notes.length) slide.show(route.notes[0]);
  });
  document.addEventListener("hs:point", ({ detail: place }) => {
    if (player.state !== "playing") slide?.show(place ?? chosen, { ms: 350 });
  });
  document.addEventListener("hs:ghost", ({ detail }) => slide?.ghost(detail));
  document.addEventListener("hs:select", ({ detail: note }) => {
    if (!note || player.state === "playing") return;
    chosen = note;
    player.setStart(note.i);
    slide?.show(note, { ms: 350 });
  });
  document.addEventListener("hs:range", ({ detail }) => player.setRange(detail));
  player.on("cursor", (detail) => {
    document.dispatchEvent(new CustomEvent("hs:cursor", { detail }));
  });
  player.on("move", ({ note, ms }) => slide?.show(note ?? null, { ms }));
  document.dispatchEvent(new CustomEvent("hs:ask"));
  window.addEventListener("pagehide", () => player.state !== "stopped" && player.stop());
}

begin();
