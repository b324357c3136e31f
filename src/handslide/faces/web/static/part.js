// The page of a part: music, the chosen note with its places, choices, undo, measures.
//
// Said on document: hs:route {route} after loading and each change, hs:select {note}, hs:range
// {from, to} | null, hs:point {place} | null, hs:ghost {mm} | null (see partplayer.js). Heard: hs:cursor
// {i}, hs:ask (a script that came late asks for the route).

import { piecesAt } from "./engraved.js";
import { Music, noMusic } from "./music.js";
import { around, byId, isAbort, isTyping, texts as textsOf, twice } from "./page.js";
import { Margin, Tip } from "./partmarks.js";
import { ask, complain } from "./shell.js";
import { readingOf } from "./slide.js";
import { staysOf } from "./slidepath.js";
import { fill, number } from "./words.js";

const LATE_MS = 200; // what takes longer than this shows that it waits
const FOLLOW_MS = 400; // while it plays, the panel changes no more often
const OFF_MM = 10; // from here on a note of the last take has a wedge
const PATH_KEPT = "handslide.path"; // "no" in this browser's memory: without the path under the staff
const ZOOMS = [0.5, 0.6, 0.7, 0.8, 0.9, 1, 1.1, 1.2, 1.3, 1.4, 1.6, 1.8, 2, 2.3, 2.6, 3];
const words = textsOf();
/** @param {string} id */
const choiceOf = (id) => byId(id, HTMLSelectElement).value;
/** @param {string} id */
const button = (id) => byId(id, HTMLButtonElement);
const base = `/stands/${byId("part").dataset.stand}`;
const score = byId("score");
const panel = byId("note");
const side = byId("side");
const paper = byId("paper");
const music = new Music(score, piecesAt(`${base}/music`), (i) => {
  held = music.playing !== null;
  open(true);
  select(i);
  score.focus({ preventScroll: true });
});
// Where the drawer is a sheet over the music (the same condition as in part.css).
const sheet = window.matchMedia("(max-width: 68.75rem) and (min-height: 34.01rem), (max-width: 40rem)");
/** @type {Route | null} */
let route = null;
/** @type {number | null} */
let selected = null;
/** @type {NoteRange | null} measures by index */
let span = null;
let alternative = -1; // which of the other places the keys are on
/** @type {AbortController | null} of the panel */
let asking = null;
/** @type {Map<number, { mm: number, off_mm: number }>} the last take by written note */
const taken = new Map();
let held = false; // while it plays: a note was picked, the panel stays there
/** @type {number | null} while it plays: the note that the panel is to show next */
let wanted = null;
let following = false;
/** @type {Promise<unknown>} */
let sending = Promise.resolve();

/**
 * @template {"hs:route" | "hs:select" | "hs:range" | "hs:point" | "hs:ghost"} K
 * @param {K} name
 * @param {DocumentEventMap[K]["detail"]} detail
 */
const tell = (name, detail) => document.dispatchEvent(new CustomEvent(name, { detail }));
/** @param {string} text */
const say = (text) => (byId("said").textContent = text);
/** @param {{ mi?: number }} note */
const inSpan = ({ mi = -1 }) => !span || (mi >= span.from && mi <= span.to);
/** @returns {NodeListOf<HTMLButtonElement>} the other places of the chosen note */
const othersIn = () => panel.querySelectorAll("button.other");

/** @param {Error} error */
const broken = (error) => noMusic(score, fill(words.no_music, { why: error.message }));
music.broken = broken;
music.free = room;

async function begin() {
  showPath(localStorage.getItem(PATH_KEPT) !== "no");
  open(!sheet.matches);
  sheet.addEventListener("change", () => open(!sheet.matches || selected !== null));
  // The first lines can be used before the others are drawn.
  let usable = () => {};
  music.first = new Promise((go) => (usable = () => setTimeout(go)));
  const [found, drawn] = await Promise.allSettled([ask(`${base}/route`), music.load()]);
  if (drawn.status === "rejected") broken(drawn.reason);
  if (found.status === "rejected") return usable();
  const read = (route = /** @type {Route} */ (found.value));
  music.kind = choiceOf("show");
  music.pathOf = { travel_mm: read.horn.travel_mm, stays: staysOf(read.played) };
  music.setNotes(read.notes);
  state(read);
  tell("hs:route", read);
  usable();
  const wanted = Number(new URLSearchParams(location.search).get("note") ?? NaN);
  if (Number.isInteger(wanted) && read.notes[wanted]) select(wanted);
  lists();
  lastTake();
}

// The drawer beside the music, on small screens a sheet over its lower part

const isShut = () => document.body.classList.contains("shut");

/** @param {boolean} on */
function open(on) {
  document.body.classList.toggle("shut", !on);
  byId("open").setAttribute("aria-expanded", String(on));
}

function shut() {
  const had = side.contains(document.activeElement);
  open(false);
  point(null);
  if (had) score.focus({ preventScroll: true });
}
byId("shut").addEventListener("click", shut);
byId("open").addEventListener("click", () => {
  open(true);
  byId("shut").focus();
});

// What is free for the music, in px of the window.
function room() {
  const { top, bottom } = paper.getBoundingClientRect();
  const over = sheet.matches && !isShut() ? side.getBoundingClientRect().top : bottom;
  return { top, bottom: Math.min(bottom, over) };
}

// The chosen note

/** @param {number} i */
async function select(i, { quiet = false } = {}) {
  if (!route?.notes[i]) return;
  selected = i;
  alternative = -1;
  music.select(i);
  music.reveal(i, room());
  tell("hs:select", route.notes[i]);
  ghost(i);
  await show(i, { quiet });
}

// While it plays, the panel goes along; it is asked for anew when the last answer has come.
/** @param {number} i */
async function follow(i) {
  wanted = i;
  if (following) return;
  following = true;
  while (wanted !== null && !held) {
    selected = wanted;
    wanted = null;
    alternative = -1;
    music.select(selected);
    if (!isShut()) await show(selected, { quiet: true });
    await new Promise((go) => setTimeout(go, FOLLOW_MS));
  }
  following = false;
}

/** @param {number} i */
const ghost = (i) => tell("hs:ghost", taken.get(i)?.mm ?? null);

/** @param {number} i */
async function show(i, { quiet = false } = {}) {
  asking?.abort();
  const mine = (asking = new AbortController());
  const focus = focusIn(panel);
  const late = setTimeout(() => panel.classList.add("busy"), LATE_MS);
  let html;
  try {
    const { signal } = mine;
    const answer = await twice(() => fetch(`${base}/notes/${i}`, { signal, headers: { Accept: "text/html" } }));
    html = await answer.text();
    if (!answer.ok) return complain(sentenceIn(html));
  } catch (error) {
    if (!isAbort(error)) complain();
    return;
  } finally {
    clearTimeout(late);
    if (!mine.signal.aborted) panel.classList.remove("busy");
  }
  if (mine.signal.aborted) return;
  panel.innerHTML = html;
  side.scrollTop = 0;
  lastOf(i);
  focus();
  // The sheet has grown: the note must not be under it.
  if (sheet.matches) music.reveal(i, room());
  /** @type {HTMLElement | null} */
  const told = panel.querySelector("[data-said]");
  if (!quiet && told) say(told.dataset.said ?? "");
}

/**
 * What a page of an error says.
 * @param {string} html
 */
function sentenceIn(html) {
  const main = new DOMParser().parseFromString(html, "text/html").querySelector("main p");
  return main?.textContent?.trim() || undefined;
}

/**
 * Where the focus was in the panel, to set it again after its contents are new.
 * @param {HTMLElement} el
 */
function focusIn(el) {
  const had = document.activeElement;
  if (!(had instanceof HTMLElement) || !el.contains(had)) return () => {};
  const { partial, valves, act } = had.dataset;
  return () => {
    const same = [...othersIn()].find(
      (other) => other.dataset.partial === partial && other.dataset.valves === valves,
    );
    /** @type {HTMLElement | null} */
    const acting = el.querySelector("[data-act]");
    (act ? acting : same ?? el.querySelector("button") ?? score)?.focus();
  };
}

/**
 * The note that the panel was drawn for: another may be chosen in the music by now.
 * @param {Element} within
 */
const noteOf = (within) => Number(within.closest("[data-i]")?.getAttribute("data-i"));

panel.addEventListener("click", (event) => {
  const press = around(event, "button");
  if (!press) return;
  const i = noteOf(press);
  if (press.classList.contains("other")) return choose(press);
  if (press.dataset.act) backTo(i);
  if (press.dataset.act === "lock") edit("choose", { i });
  else if (press.dataset.act === "alike") edit("alike", { i }, fill(words.alike, { n: press.dataset.count ?? "" }));
  else if (press.dataset.act === "seen") lookTo(i);
  else if (press.dataset.act === "unlock") edit("unlock", { i });
});

// What was pressed is what is looked at, even where another note was on its way into the panel.
/** @param {number} i */
function backTo(i) {
  if (selected === i) return;
  asking?.abort();
  selected = i;
  music.select(i);
}

/** @param {number} i all up to there is as it should be */
const lookTo = (i) => edit("seen", { i }, words.seen);

/** @param {HTMLElement} other */
function choose(other) {
  const i = noteOf(other);
  backTo(i);
  edit("choose", {
    i,
    valves: JSON.parse(other.dataset.valves ?? "[]"),
    partial: Number(other.dataset.partial),
  });
}

// A place that is pointed at: the slide goes there, and back.

/** @param {HTMLElement | null} other */
function point(other) {
  if (!other) return tell("hs:point", null);
  const { mm, position, partial, valves } = other.dataset;
  tell("hs:point", {
    valves: JSON.parse(valves ?? "[]"),
    partial: Number(partial),
    position: Number(position),
    extension_mm: Number(mm),
    mark: other.querySelector(".mark")?.textContent ?? "",
    words: other.title,
  });
}
panel.addEventListener("pointerover", (event) => {
  if (event.pointerType === "mouse") point(around(event, "button.other"));
});
panel.addEventListener("pointerleave", () => point(null));
panel.addEventListener("focusin", (event) => {
  const other = around(event, "button.other");
  if (other?.matches(":focus-visible")) point(other);
});
panel.addEventListener("focusout", () => point(null));

// Edits, one after the other

/**
 * @param {string} action
 * @param {object} values
 * @param {string | null} said
 */
function edit(action, values, said = null) {
  sending = sending.then(() => send(action, values, said)).catch(() => {});
  return sending;
}

/**
 * @param {string} action
 * @param {object} values
 * @param {string | null} said
 */
async function send(action, values, said) {
  if (!route) return;
  /** @type {RouteChanges} */
  const answer = await ask(`${base}/${action}`, {
    method: "POST",
    headers: { "Content-Type": "application/json" },
    body: JSON.stringify(values),
  });
  const { changed, was, about, ...rest } = answer;
  // Another window was quicker: what is shown here is older than what this edit has changed.
  if (was !== route.seal) await renew();
  else {
    Object.assign(route, rest);
    for (const note of changed) route.notes[note.i] = note;
    music.update(changed);
    state(route);
    tell("hs:route", route);
  }
  // Undo and redo go to what they were about.
  const back = action === "undo" || action === "redo";
  if (back && about.length && !about.includes(selected ?? -1)) selected = about[0];
  if (said) say(said);
  const others = changed.filter((note) => note.i !== selected).length;
  if (selected !== null) {
    await select(selected, { quiet: Boolean(said) });
    if (!said && others) {
      say(`${byId("said").textContent}. ${others === 1 ? words.changed_one : fill(words.changed, { n: others })}`);
    }
  }
  lists();
  if (taken.size) lastTake();
}

// The route as it is now, after edits that were made elsewhere; true if there were any.
async function renew() {
  /** @type {Route} */
  const fresh = await ask(`${base}/route`);
  const before = route;
  if (!before || fresh.seal === before.seal) return false;
  const other = fresh.notes.length !== before.notes.length;
  if (other || fresh.notes.some(({ el }, i) => el !== before.notes[i].el)) {
    location.reload();
    return false;
  }
  route = fresh;
  music.update(fresh.notes);
  state(fresh);
  tell("hs:route", fresh);
  return true;
}

// A window that was behind, or a page that comes back, may show what is no longer so.
async function returned() {
  if (document.visibilityState !== "visible" || !route || !(await renew())) return;
  lists();
  if (selected !== null) show(selected, { quiet: true });
}
const look = () => (sending = sending.then(returned).catch(() => {}));
document.addEventListener("visibilitychange", look);
window.addEventListener("focus", look);
window.addEventListener("pageshow", (event) => event.persisted && look());

/** @param {RouteState} now */
function state(now) {
  for (const one of pressing("undo")) one.disabled = !now.can_undo;
  for (const one of pressing("redo")) one.disabled = !now.can_redo;
  button("unlock-all").disabled = !now.locks;
  for (const one of [button("undo"), button("redo")]) {
    // While it can't be pressed, its title says why.
    if (!one.disabled) one.title = one.getAttribute("aria-label") ?? "";
  }
  music.lookedTo(now.seen_to);
  margin.show(now.warnings);
}

/**
 * The button of the bar, and that of the menu on a phone.
 * @param {string} name
 * @returns {HTMLButtonElement[]}
 */
const pressing = (name) => [
  button(name),
  ...[...document.querySelectorAll(`[data-press="${name}"]`)].map((one) => /** @type {HTMLButtonElement} */ (one)),
];
for (const one of document.querySelectorAll("[data-press]")) {
  one.addEventListener("click", () => byId(one.getAttribute("data-press") ?? "").click());
}

byId("undo").addEventListener("click", () => edit("undo", {}, words.undone));
byId("redo").addEventListener("click", () => edit("redo", {}, words.redone));
byId("unlock-all").addEventListener("click", () => edit("unlock", { all: true }, words.unlocked_all));

// Keys

/** @param {number} by */
function step(by) {
  const open = route?.notes.filter(inSpan) ?? [];
  if (!open.length) return;
  const at = open.findIndex((note) => note.i === selected);
  const to = at < 0 ? (by > 0 ? 0 : open.length - 1) : Math.min(open.length - 1, Math.max(0, at + by));
  select(open[to].i);
}

/** @param {number} by */
function walk(by) {
  const others = [...othersIn()];
  // An older note's places aren't this one's.
  if (others.length && noteOf(others[0]) !== selected) return;
  if (others.length < 2) return say(words.nothing);
  const now = others.findIndex((other) => other.hasAttribute("aria-current"));
  const from = alternative < 0 ? now : alternative;
  alternative = (from + by + others.length) % others.length;
  others.forEach((other, k) => other.classList.toggle("is-on", k === alternative));
  const on = others[alternative];
  on.scrollIntoView({ block: "nearest" });
  point(on);
  /** @param {string} kind */
  const text = (kind) => on.querySelector(kind)?.textContent?.trim() ?? "";
  say(fill(words.place, { words: text(".other-words"), degree: text(".degree") || text("strong") }));
}

const FREE = ["ArrowRight", "ArrowLeft", "l"]; // keys that buttons of the bar have no use for

document.addEventListener("keydown", (event) => {
  if (!route || event.ctrlKey || event.metaKey || event.altKey || event.defaultPrevented) return;
  if (isTyping(event) || around(event, ".menu, dialog, .drawer, .margin")) return;
  const mine = event.target === document.body || around(event, "#score");
  const { notes } = route;
  /** @type {Record<string, () => void>} */
  const keys = {
    ArrowRight: () => step(1),
    ArrowLeft: () => step(-1),
    Home: () => step(-Infinity),
    End: () => step(Infinity),
    ArrowDown: () => walk(1),
    ArrowUp: () => walk(-1),
    Enter: () => {
      const on = [...othersIn()].find((other) => other.classList.contains("is-on"));
      if (on) choose(on);
      else open(true);
    },
    l: () => {
      if (selected !== null) edit(notes[selected].locked ? "unlock" : "choose", { i: selected });
    },
  };
  const key = event.key.length === 1 ? event.key.toLowerCase() : event.key;
  if (!keys[key] || event.shiftKey || !(mine || FREE.includes(key))) return;
  event.preventDefault();
  held = music.playing !== null;
  keys[key]();
});

// Esc closes the drawer, unless something lies over the page: that closes first.
document.addEventListener(
  "keydown",
  (event) => {
    if (event.key !== "Escape" || isShut()) return;
    if (!document.querySelector("dialog[open], details.bar-more[open]")) shut();
  },
  true,
);

document.addEventListener("keydown", (event) => {
  if (!route || !(event.ctrlKey || event.metaKey) || event.altKey) return;
  if (around(event, "input, textarea, select")) return;
  const key = event.key.toLowerCase();
  const back = key === "z" && !event.shiftKey;
  if (!back && key !== "z" && key !== "y") return;
  event.preventDefault();
  byId(back ? "undo" : "redo").click();
});

// Size of the music

let zoom = ZOOMS.indexOf(1);
/** @param {number} by */
function resize(by) {
  zoom = Math.min(ZOOMS.length - 1, Math.max(0, zoom + by));
  byId("zoom").textContent = fill(words.percent, { n: number(100 * ZOOMS[zoom]) });
  /** @type {NodeListOf<HTMLButtonElement>} */
  const buttons = document.querySelectorAll("[data-zoom]");
  for (const one of buttons) one.disabled = one.dataset.zoom === "1" ? zoom === ZOOMS.length - 1 : !zoom;
  music.setZoom(ZOOMS[zoom]);
  if (selected !== null) music.reveal(selected, room());
}
for (const one of document.querySelectorAll("[data-zoom]")) {
  one.addEventListener("click", () => resize(Number(one.getAttribute("data-zoom"))));
}

// The path of the slide under the staves

/** @param {boolean} on */
function showPath(on) {
  // What is looked at stays where it is, though the lines move apart.
  const mark = sightOf();
  const before = mark?.getBoundingClientRect().top ?? 0;
  music.setPath(on);
  if (mark) paper.scrollBy({ top: mark.getBoundingClientRect().top - before, behavior: "instant" });
  for (const one of pressing("path")) one.setAttribute("aria-pressed", String(on));
}

// The chosen note if it is in sight, else the first line that is.
function sightOf() {
  const { top, bottom } = room();
  /** @param {Element | undefined} el */
  const seen = (el) => {
    const box = el?.getBoundingClientRect();
    return box && box.bottom > top && box.top < bottom;
  };
  const chosen = selected === null ? undefined : music.spots.get(selected)?.hit;
  return seen(chosen) ? chosen : [...score.querySelectorAll("g.system")].find(seen);
}

function turnPath() {
  const on = !music.pathed;
  showPath(on);
  localStorage.setItem(PATH_KEPT, on ? "yes" : "no");
  say(on ? words.path_on : words.path_off);
}
byId("path").addEventListener("click", turnPath);

function fullScreen() {
  if (document.fullscreenElement) document.exitFullscreen();
  else document.documentElement.requestFullscreen?.().catch(() => {});
}
byId("full").addEventListener("click", fullScreen);
document.addEventListener("fullscreenchange", () => {
  byId("full").setAttribute("aria-pressed", String(Boolean(document.fullscreenElement)));
});

document.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.metaKey || event.altKey || isTyping(event)) return;
  if (document.querySelector("dialog[open]")) return;
  /** @type {Record<string, () => void>} */
  const keys = { "+": () => resize(1), "-": () => resize(-1), f: fullScreen, w: turnPath };
  const act = keys[event.key.toLowerCase()];
  if (!act) return;
  event.preventDefault();
  act();
});

// The last take

const slideWords = textsOf("slide-texts");

async function lastTake() {
  /** @type {LastTake | null} */
  const last = await ask(`${base}/lasttake`);
  taken.clear();
  for (const { i, mm, off_mm } of last?.notes ?? []) taken.set(i, { mm, off_mm });
  const far = [...taken].filter(([, { off_mm }]) => Math.abs(off_mm) >= OFF_MM);
  music.setOff(new Map(far.map(([i, { off_mm }]) => [i, off_mm])));
  if (selected === null) return;
  ghost(selected);
  lastOf(selected);
}

/** @param {number} i */
function lastWords(i) {
  const was = taken.get(i);
  return was ? fill(words.last_take, { words: readingOf(was.off_mm, slideWords).words }) : "";
}

/**
 * In the panel, and beside the slide.
 * @param {number} i
 */
function lastOf(i) {
  /** @type {HTMLElement | null} */
  const line = panel.querySelector(`[data-i="${i}"] [data-last]`);
  if (line) {
    line.hidden = !taken.has(i);
    line.textContent = lastWords(i);
    line.dataset.way = taken.has(i) ? readingOf(taken.get(i)?.off_mm ?? 0, slideWords).way : "";
  }
}
document.addEventListener("hs:ghost", ({ detail: mm }) => {
  byId("told").hidden = mm === null;
  byId("last").textContent = mm === null ? "" : fill(words.last_at, { mm: number(mm) });
});

// Warnings in the margin, words on every mark

const margin = new Margin(byId("margin"), music, words, (i) => {
  open(true);
  select(i);
});
music.laid = () => margin.lay();
/** @param {number} i */
function allWords(i) {
  const note = route?.notes[i];
  if (!note) return [];
  return [
    `${note.name}: ${note.words ?? words.cant}`,
    note.locked ? words.locked : note.unusual ? words.unusual : "",
    lastWords(i),
    ...(route?.warnings ?? []).filter((row) => row.i === i).map((row) => row.text),
  ].filter(Boolean);
}
new Tip(byId("tip"), score, allWords, words.path_says);

/** @type {NodeListOf<HTMLElement>} */
const openers = document.querySelectorAll("[data-opens]");
for (const one of openers) {
  one.addEventListener("click", () => {
    one.closest("details")?.removeAttribute("open");
    byId(one.dataset.opens ?? "", HTMLDialogElement).showModal();
  });
}

// Measures, marks, lists

/** @param {Route} read */
function spanOf(read) {
  const values = ["from", "until"].map(choiceOf);
  if (values.every((value) => value === "")) return null;
  const last = read.notes.at(-1)?.mi ?? 0;
  const [from, to] = [values[0] === "" ? 0 : Number(values[0]), values[1] === "" ? last : Number(values[1])];
  return { from: Math.min(from, to), to: Math.max(from, to) };
}

function limit() {
  if (!route) return;
  span = spanOf(route);
  music.limit(inSpan);
  const open = route.notes.filter(inSpan);
  const last = open.at(-1);
  tell("hs:range", span && last ? { from: open[0].i, to: last.i } : null);
  if (span && open.length) music.reveal(open[0].i, room());
  links();
  lists();
}

byId("from").addEventListener("change", limit);
byId("until").addEventListener("change", limit);
byId("show").addEventListener("change", () => {
  music.show(choiceOf("show"));
  links();
});

// What is printed has the marks that are shown; what is given away has the measures, too (data-span).
function links() {
  /** @type {NodeListOf<HTMLAnchorElement>} */
  const found = document.querySelectorAll("a[data-show]");
  for (const link of found) {
    const url = new URL(link.dataset.show ?? "", location.href);
    url.searchParams.set("show", choiceOf("show"));
    if (span && link.dataset.span !== undefined) {
      url.searchParams.set("from", String(span.from));
      url.searchParams.set("to", String(span.to));
    }
    link.href = url.pathname + url.search;
  }
}

let listing = 0;
async function lists() {
  const mine = ++listing;
  const query = span ? `?from=${span.from}&to=${span.to}` : "";
  const answer = await fetch(`${base}/lists${query}`, { headers: { Accept: "text/html" } }).catch(() => null);
  if (!answer?.ok) return;
  const html = await answer.text();
  // A later change has asked again.
  if (mine !== listing) return;
  const place = byId("lists");
  /** @type {NodeListOf<HTMLDetailsElement>} */
  const before = place.querySelectorAll("details[data-list]");
  const were = new Map([...before].map((one) => [one.dataset.list, one.open]));
  place.innerHTML = html;
  /** @type {NodeListOf<HTMLDetailsElement>} */
  const after = place.querySelectorAll("details[data-list]");
  for (const one of after) one.open = were.get(one.dataset.list) ?? one.open;
}

byId("lists").addEventListener("click", (event) => {
  const row = around(event, "button[data-i]");
  if (!row) return;
  if (sheet.matches) open(true);
  select(Number(row.dataset.i));
  score.focus({ preventScroll: true });
});

document.addEventListener("hs:ask", () => route && tell("hs:route", route));

document.addEventListener("hs:cursor", ({ detail: { i } }) => {
  music.cursor(i);
  if (i === null) {
    held = false;
    wanted = null;
    return;
  }
  music.reveal(i, room());
  ghost(i);
  if (!held) follow(i);
});

links();
begin();
