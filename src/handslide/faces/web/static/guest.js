// A part on a tablet: its music and slide. All that it asks for lies at addresses without numbers;
// which part is meant, the link knows.

import { piecesAt } from "./engraved.js";
import { Music } from "./music.js";
import { byId, texts as textsOf } from "./page.js";
import { ask } from "./shell.js";
import { fill } from "./words.js";

const score = byId("score");
const words = textsOf();
const music = new Music(score, piecesAt("/music"), (i) => select(i));
/** @type {Route | null} */
let route = null;
/** @type {number | null} */
let selected = null;

async function begin() {
  const [found, drawn] = await Promise.allSettled([ask("/route"), music.load()]);
  if (drawn.status === "rejected") {
    score.textContent = fill(words.no_music, { why: drawn.reason.message });
  }
  if (found.status === "rejected") return;
  const read = (route = /** @type {Route} */ (found.value));
  music.setNotes(read.notes);
  tell("hs:route", read);
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
  tell("hs:select", note);
}

score.addEventListener("keydown", (event) => {
  const step = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
  if (!step || !route) return;
  event.preventDefault();
  const last = route.notes.length - 1;
  select(selected === null ? 0 : Math.max(0, Math.min(last, selected + step)));
});
document.addEventListener("hs:ask", () => route && tell("hs:route", route));
document.addEventListener("hs:cursor", ({ detail: { i } }) => {
  music.cursor(i);
  if (i !== null) music.reveal(i);
});

begin();
