// The drone's room: the slide goes to the place of the note, and large keys choose one.

import { byId, handed, texts } from "./page.js";
import { Slide } from "./slide.js";

const MOVE_MS = 600;
const words = texts("slide-texts");
/** @type {Record<string, NotePlace & { mark: string }>} */
const places = handed("drone-places");
const el = byId("drone-slide");
const slide = new Slide(el, JSON.parse(el.dataset.horn ?? ""), words);
const note = byId("note", HTMLSelectElement);
const more = byId("more", HTMLInputElement);
/** @type {NodeListOf<HTMLButtonElement>} */
const keys = document.querySelectorAll(".note-key");

/** @param {number} ms */
function show(ms) {
  const own = more.value.trim() !== "";
  slide.show(own ? null : places[note.value], { ms });
  for (const key of keys) {
    key.setAttribute("aria-pressed", String(!own && key.dataset.note === note.value));
  }
}

byId("note-keys").hidden = false;
for (const key of keys) {
  key.addEventListener("click", () => {
    note.value = key.dataset.note ?? "";
    more.value = "";
    note.dispatchEvent(new Event("input", { bubbles: true }));
  });
}
for (const field of [note, more]) field.addEventListener("input", () => show(MOVE_MS));
show(0);
