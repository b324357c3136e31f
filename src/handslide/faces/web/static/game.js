// Which would you write? One question at a time, each with two ways to see and to hear.
//
// While a question is looked at the next one is fetched already. Keys, outside of fields: 1 and 2
// pick a way, N neither, U or Ctrl+Z takes the last answer back, M plays one way, then the other.

import { byId, texts as textsOf } from "./page.js";
import { Player } from "./player.js";
import { ask, complain } from "./shell.js";
import { Slide } from "./slide.js";
import { fill } from "./words.js";

const LASTS_MS = 120_000;
const CLOCK_MS = 1000;
const PICKED_MS = 260; // how long the picked card is marked before the next question comes
const base = "/learning/game";
const words = textsOf();
const narrow = window.matchMedia("(max-width: 40rem)");
const game = byId("game");
const headers = { "Content-Type": "application/json" };
/** @type {NodeListOf<HTMLElement>} */
const cards = document.querySelectorAll(".game-way");
/** @param {string} id */
const button = (id) => byId(id, HTMLButtonElement);
/** @param {string} text */
const say = (text) => (byId("said").textContent = text);

/**
 * What a way sounds like, with its drawing and its words (handslide.jobs.profile.wayjson).
 * @typedef {Route & { svg: string, words: string }} Way
 * @typedef {{ number: number, heading: string, who: string, part: string, ways: Way[] }} Question
 */

/** @type {string} */
let key = "";
/** @type {Question | null} */
let now = null;
/** @type {Question[]} those behind, the last one last */
let behind = [];
/** @type {Question[]} those that come again after an undo, the next one last */
let again = [];
/** @type {Promise<Question | null> | null} the question after this one */
let next = null;
let until = 0; // when the two minutes are over
let clock = 0;
let busy = false;
/** @type {number | null} the way that plays */
let playing = null;
let heard = 1; // the way that was heard last; M plays the other one

const player = new Player();
player.options.countIn = false;
/** @type {Slide | null} */
let slide = null;

/**
 * @param {string} url
 * @param {object} values
 */
const post = (url, values = {}) => ask(`${base}/${url}`, { method: "POST", headers, body: JSON.stringify(values) });

/** @param {"begin" | "asking" | "ended"} state */
function show(state) {
  game.dataset.state = state;
  for (const id of ["begin", "asking", "ended"]) byId(id).hidden = id !== state;
}

/**
 * @param {number} number
 * @returns {Promise<Question | null>}
 */
const fetchCard = (number) => ask(`${base}/${key}/${number}`);

/** @param {number} number */
function prepare(number) {
  next = fetchCard(number);
  next.catch(() => {}); // said when it is wanted
}

async function open() {
  const width = narrow.matches ? "narrow" : "wide";
  ({ key } = await post("begin", { width }));
  prepare(0);
}

async function begin() {
  const start = button("start");
  start.classList.add("busy");
  say(words.searching);
  try {
    if (!key) await open();
    const first = await next;
    behind = [];
    again = [];
    if (!first) return await end("nothing");
    until = performance.now() + LASTS_MS;
    show("asking");
    display(first);
    byId("heading").focus();
    tick();
    clock = window.setInterval(tick, CLOCK_MS);
  } catch {
    key = ""; // the complaint is shown already; another press begins anew
  } finally {
    start.classList.remove("busy");
  }
}

// How long there still is, in words that change each half minute.
function tick() {
  const left = Math.max(0, until - performance.now());
  byId("clock").style.width = `${(100 * left) / LASTS_MS}%`;
  const text = words[`clock.${Math.ceil(left / 30_000)}`];
  if (byId("clock-words").textContent !== text) byId("clock-words").textContent = text;
}

/** @param {Question} question */
function display(question) {
  player.stop();
  now = question;
  byId("heading").textContent = question.heading;
  byId("who").textContent = question.who;
  byId("part", HTMLAnchorElement).href = question.part;
  cards.forEach((card, way) => {
    const { svg, words: told } = question.ways[way];
    const drawn = new DOMParser().parseFromString(svg, "image/svg+xml").documentElement;
    part(card, ".game-music").replaceChildren(document.importNode(drawn, true));
    part(card, ".game-words").textContent = told;
    card.removeAttribute("data-picked");
  });
  heard = 1;
  const { horn, notes } = question.ways[0];
  if (!slide) slide = new Slide(byId("slide"), horn, textsOf("slide-texts"));
  else if (JSON.stringify(slide.horn) !== JSON.stringify(horn)) slide.setHorn(horn);
  slide.show(notes[0]);
  button("undo").disabled = !behind.length;
  const [first, second] = question.ways.map((way) => way.words);
  say(fill(words.question, { heading: question.heading, first, second }));
  if (!again.length && !next) prepare(question.number + 1);
}

/**
 * @param {HTMLElement} card
 * @param {string} selector
 * @returns {HTMLElement}
 */
const part = (card, selector) => /** @type {HTMLElement} */ (card.querySelector(selector));

// Answers

/** @param {number} picked 1, 2 or 0 for neither */
async function pick(picked) {
  if (busy || !now) return;
  busy = true;
  player.stop();
  const asked = now;
  cards.forEach((card, way) => card.setAttribute("data-picked", String(way + 1 === picked)));
  const seen = new Promise((done) => setTimeout(done, PICKED_MS));
  try {
    await post(`${key}/answer`, { number: asked.number, picked });
    const over = performance.now() >= until;
    const coming = over ? null : await following(asked);
    await seen;
    behind.push(asked);
    if (coming) {
      display(coming);
      say(`${words[`picked.${picked}`]} ${byId("said").textContent}`);
    } else await end(over ? "over" : "nothing");
  } catch {
    cards.forEach((card) => card.removeAttribute("data-picked"));
  } finally {
    busy = false;
  }
}

/** @param {Question} asked */
async function following(asked) {
  const before = again.pop();
  if (before) return before;
  const waits = setTimeout(() => byId("ways").classList.add("busy"), PICKED_MS);
  try {
    const found = await (next ?? fetchCard(asked.number + 1));
    next = null;
    // Nothing was left before this answer; after it there may be.
    return found ?? (await fetchCard(asked.number + 1));
  } finally {
    clearTimeout(waits);
    byId("ways").classList.remove("busy");
  }
}

async function undo() {
  if (busy || !now || !behind.length) return;
  busy = true;
  try {
    await post(`${key}/undo`);
    again.push(now);
    const last = /** @type {Question} */ (behind.pop());
    display(last);
    say(`${words.taken_back} ${byId("said").textContent}`);
  } catch {
    // said already
  } finally {
    busy = false;
  }
}

/** @param {string} why */
async function end(why) {
  clearInterval(clock);
  player.stop();
  const place = byId("ended");
  const answer = await fetch(`${base}/${key}/end?why=${why}`, { headers: { Accept: "text/html" } }).catch(() => null);
  if (!answer?.ok) return complain();
  place.innerHTML = await answer.text();
  htmx.process(place); // what changed comes by itself
  now = null;
  next = null;
  key = "";
  show("ended");
  place.querySelector("h2")?.focus();
  place.querySelector("#again")?.addEventListener("click", restart);
}

async function restart() {
  show("begin");
  await begin();
}

// Sound

/** @param {number} way 0 or 1 */
function hear(way) {
  if (!now) return;
  const same = playing === way;
  player.stop();
  if (same) return;
  playing = heard = way;
  player.setRoute({ ...now.ways[way], beats: [] });
  player.play();
  state();
  // On a phone the slide stands over the lower card while it plays.
  if (narrow.matches) cards[way].scrollIntoView({ block: "start" });
}

function state() {
  game.toggleAttribute("data-playing", playing !== null);
  cards.forEach((card, way) => {
    const press = part(card, ".game-hear");
    press.textContent = way === playing ? words.stop : words.hear;
    press.setAttribute("aria-pressed", String(way === playing));
  });
}

player.on("state", ({ state: what }) => {
  if (what !== "stopped") return;
  playing = null;
  state();
});

player.on("move", ({ note, ms }) => slide?.show(note ?? null, { ms }));

player.on("cursor", ({ i }) => {
  cards.forEach((card, way) => {
    const el = i === null || way !== playing ? null : now?.ways[way].notes[i].el;
    for (const one of card.querySelectorAll("[data-note]")) {
      one.classList.toggle("is-playing", one.getAttribute("data-note") === el);
    }
  });
});

// Hands and keys

cards.forEach((card, way) => {
  part(card, ".game-pick").addEventListener("click", () => pick(way + 1));
  part(card, ".game-hear").addEventListener("click", () => hear(way));
});
button("start").addEventListener("click", begin);
button("neither").addEventListener("click", () => pick(0));
button("undo").addEventListener("click", undo);
button("end").addEventListener("click", () => end("ended").catch(() => complain()));

document.addEventListener("keydown", (event) => {
  if (event.defaultPrevented || event.altKey || event.repeat || !now) return;
  if (document.querySelector("dialog[open]")) return;
  const pressed = event.key.toLowerCase();
  const back = pressed === "u" || (pressed === "z" && (event.ctrlKey || event.metaKey));
  if (!back && (event.ctrlKey || event.metaKey)) return;
  /** @type {Record<string, () => unknown>} */
  const keys = { 1: () => pick(1), 2: () => pick(2), n: () => pick(0), m: () => hear(playing ?? 1 - heard) };
  const act = back ? undo : keys[pressed];
  if (!act) return;
  event.preventDefault();
  act();
});

window.addEventListener("pagehide", () => player.stop());

// The first question is looked for while the page is read.
open().catch(() => (key = ""));
