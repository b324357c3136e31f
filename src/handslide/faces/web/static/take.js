// The report of a take: its music with what was heard; a click on a note, there, in the pictures or in
// the table, plays that note.

import { piecesAt } from "./engraved.js";
import { HeardMusic } from "./heard.js";
import { NoteSound } from "./notesound.js";
import { byId, texts as textsOf } from "./page.js";
import { ask } from "./shell.js";
import { fill, number } from "./words.js";

const audio = /** @type {HTMLAudioElement | null} */ (document.getElementById("audio"));
const sound = audio && new NoteSound(audio);
/** @type {NodeListOf<HTMLElement>} */
const found = document.querySelectorAll("#take-notes tr[data-of]");
const rows = [...found];
/** @type {NodeListOf<SVGElement>} */
const drawn = document.querySelectorAll(".take-pictures .spot");
const spots = new Map([...drawn].map((spot) => [spot.dataset.of, spot]));
/** @type {HeardMusic | null} */
let music = null;
/** @type {Map<string | undefined, number>} written notes by the row that tells of them */
const written = new Map();

/** @type {HTMLElement | null} */
let shown = null;

/** @param {HTMLElement | null} row */
function show(row) {
  if (row === shown) return;
  light(shown, false);
  light(row, true);
  shown = row;
  music?.select(row ? (written.get(row.dataset.of) ?? null) : null);
}

/**
 * @param {HTMLElement | null} row
 * @param {boolean} on
 */
function light(row, on) {
  if (!row) return;
  row.classList.toggle("on", on);
  spots.get(row.dataset.of)?.classList.toggle("on", on);
}

/** @param {HTMLElement} row */
async function play(row) {
  const { start, end } = row.dataset;
  show(row);
  if (start !== undefined && end !== undefined) await sound?.play(Number(start), Number(end));
}

/** @param {number} time */
function sounding(time) {
  return rows.find((row) => Number(row.dataset.start) <= time && time < Number(row.dataset.end));
}

if (audio && sound) {
  for (const row of rows) {
    const button = row.querySelector("button");
    if (!button) continue;
    button.hidden = false;
    button.addEventListener("click", () => {
      if (row === shown && sound.until !== null) audio.pause();
      else play(row);
    });
  }
  audio.addEventListener("timeupdate", () => {
    if (sound.until === null && !audio.paused) show(sounding(audio.currentTime) ?? null);
  });
  sound.ended = () => music || show(null);
}

for (const [of, spot] of spots) {
  spot.addEventListener("click", () => {
    const row = rows[Number(of)];
    if (sound && row.dataset.start) {
      play(row);
      return;
    }
    show(row);
    byId("notes-fold", HTMLDetailsElement).open = true;
    row.scrollIntoView({ block: "center" });
  });
}

/**
 * Its music, where the part is still there as it was played.
 * @param {HTMLElement} place
 */
async function onMusic(place) {
  /** @type {import("./stage.js").Report} */
  const report = await ask(`/takes/${place.dataset.take}/heard`);
  if (report.stand === null) {
    byId("pictures-fold", HTMLDetailsElement).open = true;
    return;
  }
  place.hidden = false;
  const texts = textsOf("heard-texts");
  const notes = new Map(report.notes.map((note) => [note.i, note]));
  for (const { i, row } of report.notes) written.set(String(row), i);
  /** @param {number} i */
  const pick = (i) => {
    const note = notes.get(i);
    if (!note) return;
    play(rows[note.row]);
    music?.select(i);
    const way = note.mm === null ? "" : fill(texts[`mm_${note.sign}`], { mm: number(note.mm) });
    const words = [way, note.words].filter(Boolean).join(" · ");
    byId("note-said").textContent = fill(texts.said, { note: note.name, words });
  };
  const score = byId("score");
  music = new HeardMusic(score, piecesAt(`/stands/${report.stand}/music`), pick);
  score.addEventListener("keydown", (event) => {
    const step = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
    if (!step) return;
    event.preventDefault();
    const order = [...notes.keys()].sort((a, b) => a - b);
    const here = order.indexOf(music?.selected ?? -1);
    pick(order[Math.max(0, Math.min(order.length - 1, here + step))]);
  });
  const route = await ask(`/stands/${report.stand}/route`);
  music.setNotes(route.notes);
  await music.load();
  music.tell(report.notes);
}

const place = document.getElementById("on-music");
if (place) onMusic(place);

// What is folded away is printed, too.
window.addEventListener("beforeprint", () => {
  /** @type {NodeListOf<HTMLDetailsElement>} */
  const folds = document.querySelectorAll(".take-fold");
  for (const fold of folds) fold.open = true;
});
