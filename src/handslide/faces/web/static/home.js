// The first page: the demonstration, a file that was chosen, a list that sorts itself.

import { takeIn } from "./drop.js";
import { byId, handed, isTyping, texts } from "./page.js";
import { Slide } from "./slide.js";

const STEP_MS = 620;
const FIRST_MS = 900;
const NARROW_PX = 620;

const input = byId("files", HTMLInputElement);
input.addEventListener("change", () => takeIn(input.files));

// The slide plays one line, and each mark appears as the slide gets there; then it stands still.
const demo = byId("demo");
const line = byId("demo-line");
/** @type {Slide | null} */
let slide = null;
let round = 0;

async function begin() {
  const now = (round += 1);
  const width = window.innerWidth < NARROW_PX ? "narrow" : "wide";
  line.dataset.width = width;
  // Without an answer the line stays empty: whoever leaves the page ends the request as well.
  const answer = await fetch(`/demonstration/${width}`).catch(() => null);
  if (!answer?.ok || now !== round) return;
  /** @type {{ svg: string, places: NotePlace[] }} */
  const shown = await answer.json();
  // Our own engraver drew it, of our own melody.
  line.innerHTML = shown.svg;
  slide ??= new Slide(byId("demo-slide"), handed("demo-horn"), texts("slide-texts"));
  const marks = [...line.querySelectorAll("text.mark")];
  const calm = window.matchMedia("(prefers-reduced-motion: reduce)").matches;
  if (calm) {
    slide.show(shown.places[shown.places.length - 1], { ms: 0 });
    return;
  }
  demo.classList.add("is-moving");
  let at = 0;
  const step = () => {
    if (now !== round || !slide) return;
    if (at >= marks.length) {
      demo.classList.remove("is-moving");
      for (const mark of marks) mark.classList.remove("is-there", "is-now");
      return;
    }
    marks[at - 1]?.classList.remove("is-now");
    marks[at].classList.add("is-there", "is-now");
    slide.show(shown.places[at], { ms: 0.8 * STEP_MS });
    at += 1;
    setTimeout(step, STEP_MS);
  };
  setTimeout(step, FIRST_MS);
}
begin();
byId("again").addEventListener("click", begin);
window.addEventListener("resize", () => {
  if ((window.innerWidth < NARROW_PX ? "narrow" : "wide") !== line.dataset.width) begin();
});

// Every column sorts; a second press turns it round.
const body = document.querySelector("#students tbody");
const heads = [...document.querySelectorAll("#students th[data-sorts]")];
/** @param {Element} row @param {number} column */
function valueOf(row, column) {
  const cell = /** @type {HTMLElement} */ (row.children[column]);
  return cell.dataset.v ?? (cell.textContent ?? "").trim();
}
const order = new Intl.Collator(document.documentElement.lang, { numeric: true });
for (const head of heads) {
  head.querySelector("button")?.addEventListener("click", () => {
    const up = head.getAttribute("aria-sort") !== "ascending";
    for (const other of heads) other.removeAttribute("aria-sort");
    head.setAttribute("aria-sort", up ? "ascending" : "descending");
    const column = [...(head.parentElement?.children ?? [])].indexOf(head);
    const rows = [...(body?.children ?? [])].map((row) => ({ row, value: valueOf(row, column) }));
    // What isn't known stands last either way.
    rows.sort((a, b) =>
      Number(a.value === "") - Number(b.value === "") ||
      (up ? 1 : -1) * order.compare(a.value, b.value),
    );
    body?.append(...rows.map(({ row }) => row));
  });
}

document.addEventListener("keydown", (event) => {
  const field = document.getElementById("find");
  if (event.key !== "/" || !field || isTyping(event)) return;
  event.preventDefault();
  field.focus();
});
