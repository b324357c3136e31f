// The slide over a chart goes out as far as this player reaches on this horn.

import { texts } from "./page.js";
import { Slide } from "./slide.js";

/**
 * A place of the open horn, marked with its position to the half.
 * @param {SlideHorn} horn
 * @param {number} mm
 */
function out(horn, mm) {
  const at = horn.positions.findLastIndex((one) => one.mm <= mm + 0.5);
  const [here, next] = [horn.positions[at], horn.positions[at + 1]];
  const halves = here && next ? Math.round((2 * (mm - here.mm)) / (next.mm - here.mm)) : 0;
  const mark = here ? `${here.n + Math.floor(halves / 2)}${halves % 2 ? "½" : ""}` : "";
  return { valves: [], partial: 1, position: null, extension_mm: mm, mark };
}

const words = texts("slide-texts");
const MOVE_MS = 900;
let fromMm = 0;

function show() {
  const el = document.getElementById("chart-slide");
  if (!el) return;
  /** @type {SlideHorn} */
  const horn = JSON.parse(el.dataset.horn ?? "");
  const slide = new Slide(el, horn, words);
  const toMm = horn.reach_mm ?? horn.positions[horn.positions.length - 1].mm;
  slide.show(out(horn, fromMm));
  if (toMm !== fromMm) slide.show(out(horn, toMm), { ms: MOVE_MS });
  fromMm = toMm;
}

show();
document.addEventListener("htmx:afterSettle", show);
