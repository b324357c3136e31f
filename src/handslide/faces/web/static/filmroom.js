// The part of a play-along's page that records it as a video. The page changes what is in it
// (hx-get); whatever records then goes on no more.

import { Film, recordable } from "./film.js";
import { around, texts as textsOf } from "./page.js";
import { fill, make, number } from "./words.js";

const texts = textsOf("film-texts");

/** @type {AbortController | null} */
let recording = null;
/** @type {string | null} the address of the video that can be saved */
let kept = null;

/**
 * @param {Element} box
 * @param {string} id
 */
const field = (box, id) => /** @type {HTMLInputElement} */ (box.querySelector(`#film-${id}`));

/** @param {string} address */
async function asked(address) {
  const answer = await fetch(address);
  if (!answer.ok) throw new Error(answer.statusText);
  return answer;
}

/** @param {HTMLElement} box */
function queryOf(box) {
  const query = new URLSearchParams(box.dataset.query);
  query.set("title", field(box, "title").value.trim());
  query.set("end", field(box, "end").value.trim());
  for (const name of ["named", "upright"]) if (field(box, name).checked) query.set(name, "1");
  return query;
}

/**
 * @param {HTMLElement} box
 * @param {boolean} on
 */
function show(box, on) {
  /** @type {HTMLElement | null} */
  const start = box.querySelector("[data-film-start]");
  /** @type {HTMLElement | null} */
  const stop = box.querySelector("[data-film-stop]");
  if (start) start.hidden = on;
  if (stop) stop.hidden = !on;
  (on ? stop : start)?.focus();
}

/** @param {HTMLElement} box */
async function record(box) {
  const said = box.querySelector(".film-said");
  const view = box.querySelector(".film-view");
  const kind = recordable();
  if (!said || !view) return;
  if (!kind) {
    said.textContent = texts.unable;
    return;
  }
  if (kept) URL.revokeObjectURL(kept);
  kept = null;
  const mine = (recording = new AbortController());
  show(box, true);
  said.textContent = texts.making;
  view.replaceChildren();
  const context = new AudioContext();
  try {
    const [plan, data] = await Promise.all([
      asked(`${box.dataset.film}.json?${queryOf(box)}`).then((answer) => answer.json()),
      asked(`${box.dataset.sound}?${box.dataset.query}`).then((answer) => answer.arrayBuffer()),
    ]);
    const film = await Film.of(plan);
    const sound = await context.decodeAudioData(data);
    if (context.state === "suspended") await context.resume();
    view.replaceChildren(film.canvas);
    const total = number(film.length_s);
    let last = -1;
    const told = (/** @type {number} */ second) => {
      if (Math.floor(second) === last) return;
      last = Math.floor(second);
      said.textContent = fill(texts.recording, { n: number(last), total });
    };
    const made = await film.record(sound, context, kind, told, mine.signal);
    if (!made) said.textContent = texts[mine.signal.reason] ?? texts.stopped;
    else {
      kept = URL.createObjectURL(made);
      const name = `${document.title.split(" · ")[1] ?? "clip"}.${made.type.split("/")[1]}`;
      const words = fill(texts.done, { mb: number(made.size / 1e6, 1) });
      said.replaceChildren(make("a", { class: "button", href: kept, download: name }, words));
    }
  } catch (error) {
    console.warn(error);
    said.textContent = texts.failed;
  } finally {
    context.close();
    if (recording === mine) recording = null;
    show(box, false);
  }
}

document.addEventListener("click", (event) => {
  const box = around(event, "[data-film]");
  if (!box) return;
  if (around(event, "[data-film-start]")) record(box);
  if (around(event, "[data-film-stop]")) recording?.abort("stopped");
});
document.addEventListener("visibilitychange", () => {
  if (document.hidden) recording?.abort("hidden");
});
document.addEventListener("htmx:beforeSwap", () => recording?.abort("stopped"));
// A return in these fields makes no other play-along.
document.addEventListener("keydown", (event) => {
  const box = around(event, "[data-film]");
  if (box && event.key === "Enter" && event.target instanceof HTMLInputElement) event.preventDefault();
});
