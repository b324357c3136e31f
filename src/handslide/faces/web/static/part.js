// The page of a part: music, the chosen note with its places, choices, undo, measures.
//
// Said on document: hs:route {route} after loading and each change, hs:select {note}, hs:range
// {from, to} | null. Heard: hs:cursor {i}, hs:ask (a script that came late asks for the route).

import { around, ask, byId, complain, fill, isAbort, texts as textsOf } from "/static/shell.js";
import { Music, noMusic } from "/static/music.js";

const LATE_MS = 200; // what takes longer than this shows that it waits
const words = textsOf();
/** @param {string} id */
const choiceOf = (id) => byId(id, HTMLSelectElement).value;
/** @param {string} id */
const button = (id) => byId(id, HTMLButtonElement);
const base = `/stands/${byId("part").dataset.stand}`;
const score = byId("score");
const panel = byId("note");
const dock = byId("dock");
const music = new Music(score, `${base}/music`, (i) => {
  select(i);
  score.focus({ preventScroll: true });
});
const small = window.matchMedia("(max-width: 52rem)");
/** @type {Route | null} */
let route = null;
/** @type {number | null} */
let selected = null;
/** @type {NoteRange | null} measures by index */
let span = null;
let alternative = -1; // which of the other places the keys are on
/** @type {AbortController | null} of the panel */
let asking = null;
/** @type {Promise<unknown>} */
let sending = Promise.resolve();

/**
 * @template {"hs:route" | "hs:select" | "hs:range"} K
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

async function begin() {
  arrange();
  small.addEventListener("change", arrange);
  const [found, drawn] = await Promise.allSettled([ask(`${base}/route`), music.load()]);
  if (drawn.status === "rejected") broken(drawn.reason);
  if (found.status === "rejected") return;
  const read = (route = /** @type {Route} */ (found.value));
  music.setNotes(read.notes);
  music.show(choiceOf("show"));
  state(read);
  tell("hs:route", read);
  const wanted = Number(new URLSearchParams(location.search).get("note") ?? NaN);
  if (Number.isInteger(wanted) && read.notes[wanted]) select(wanted);
  lists();
}

// On a phone and a tablet in portrait the note's panel stands at the foot of the window.
function arrange() {
  if (small.matches) dock.prepend(panel);
  else byId("side").append(panel);
}

// The dock comes up when there is something to show in it.
const use = () => byId("part").classList.add("is-in-use");

// What is free of bar and dock, in px of the window.
function room() {
  /** @type {HTMLElement | null} */
  const bar = document.querySelector(".part-bar");
  const stuck = bar && getComputedStyle(bar).position === "sticky";
  const foot = dock.getBoundingClientRect();
  return { top: stuck ? bar.offsetHeight : 0, bottom: Math.min(window.innerHeight, foot.top) };
}

// The chosen note

/** @param {number} i */
async function select(i, { quiet = false } = {}) {
  if (!route?.notes[i]) return;
  selected = i;
  alternative = -1;
  use();
  music.select(i);
  music.reveal(i, room());
  tell("hs:select", route.notes[i]);
  await show(i, { quiet });
}

/** @param {number} i */
async function show(i, { quiet = false } = {}) {
  asking?.abort();
  const mine = (asking = new AbortController());
  const focus = focusIn(panel);
  const late = setTimeout(() => panel.classList.add("busy"), LATE_MS);
  let html;
  try {
    const answer = await fetch(`${base}/notes/${i}`, { signal: mine.signal, headers: { Accept: "text/html" } });
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
  panel.scrollTop = 0;
  focus();
  // At the foot of a small screen the panel has grown: the note must not be under it.
  if (small.matches) music.reveal(i, room());
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

panel.addEventListener("click", (event) => {
  const press = around(event, "button");
  if (!press || selected === null) return;
  if (press.dataset.act === "lock") edit("choose", { i: selected });
  else if (press.dataset.act === "seen") lookTo(selected);
  else if (press.dataset.act === "unlock") edit("unlock", { i: selected });
  else if (press.classList.contains("other")) choose(press);
});

/** @param {number} i all up to there is as it should be */
const lookTo = (i) => edit("seen", { i }, words.seen);

/** @param {HTMLElement} other */
const choose = (other) =>
  edit("choose", {
    i: selected,
    valves: JSON.parse(other.dataset.valves ?? "[]"),
    partial: Number(other.dataset.partial),
  });

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
  const { changed, was, ...rest } = answer;
  // Another window was quicker: what is shown here is older than what this edit has changed.
  if (was !== route.seal) await renew();
  else {
    Object.assign(route, rest);
    for (const note of changed) route.notes[note.i] = note;
    music.update(changed);
    state(route);
    tell("hs:route", route);
  }
  if (said && changed.length) selected = changed[0].i;
  if (said) say(said);
  const others = changed.filter((note) => note.i !== selected).length;
  if (selected !== null) {
    await select(selected, { quiet: Boolean(said) });
    if (!said && others) {
      say(`${byId("said").textContent}. ${others === 1 ? words.changed_one : fill(words.changed, { n: others })}`);
    }
  }
  lists();
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
  button("undo").disabled = !now.can_undo;
  button("redo").disabled = !now.can_redo;
  button("unlock-all").disabled = !now.locks;
  music.lookedTo(now.seen_to);
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
  if (others.length < 2) return say(words.nothing);
  const now = others.findIndex((other) => other.hasAttribute("aria-current"));
  const from = alternative < 0 ? now : alternative;
  alternative = (from + by + others.length) % others.length;
  others.forEach((other, k) => other.classList.toggle("is-on", k === alternative));
  const on = others[alternative];
  on.scrollIntoView({ block: "nearest" });
  /** @param {string} kind */
  const text = (kind) => on.querySelector(kind)?.firstChild?.textContent?.trim() ?? "";
  say(fill(words.place, { words: text(".other-words"), degree: text(".worse-words") }));
}

score.addEventListener("keydown", (event) => {
  if (!route || event.ctrlKey || event.metaKey || event.altKey) return;
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
    },
    l: () => {
      if (selected !== null) edit(notes[selected].locked ? "unlock" : "choose", { i: selected });
    },
  };
  const key = event.key.length === 1 ? event.key.toLowerCase() : event.key;
  if (!keys[key] || event.shiftKey) return;
  event.preventDefault();
  keys[key]();
});

document.addEventListener("keydown", (event) => {
  if (!route || !(event.ctrlKey || event.metaKey) || event.altKey) return;
  if (around(event, "input, textarea, select")) return;
  const key = event.key.toLowerCase();
  const back = key === "z" && !event.shiftKey;
  if (!back && key !== "z" && key !== "y") return;
  event.preventDefault();
  byId(back ? "undo" : "redo").click();
});

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
  lists();
}

byId("from").addEventListener("change", limit);
byId("until").addEventListener("change", limit);
byId("show").addEventListener("change", () => {
  music.show(choiceOf("show"));
  links();
});

// What is printed has the marks that are shown.
function links() {
  /** @type {NodeListOf<HTMLAnchorElement>} */
  const found = document.querySelectorAll("a[data-show]");
  for (const link of found) {
    const url = link.dataset.show ?? "";
    link.href = `${url}${url.includes("?") ? "&" : "?"}show=${choiceOf("show")}`;
  }
}

let listing = 0;
async function lists() {
  const mine = ++listing;
  const query = span ? `?from=${span.from}&to=${span.to}` : "";
  const answer = await fetch(`${base}/lists${query}`, { headers: { Accept: "text/html" } });
  if (!answer.ok) return;
  const html = await answer.text();
  // A later change has asked again.
  if (mine === listing) byId("lists").innerHTML = html;
}

byId("lists").addEventListener("click", (event) => {
  const row = around(event, "button[data-i]");
  if (!row) return;
  select(Number(row.dataset.i));
  score.focus({ preventScroll: true });
});

document.addEventListener("hs:ask", () => route && tell("hs:route", route));

document.addEventListener("hs:cursor", ({ detail: { i } }) => {
  music.cursor(i);
  if (i === null) return;
  use();
  music.reveal(i, room());
});

links();
begin();
