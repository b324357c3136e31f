// On paper each system of the music stands by itself, so that the edge of no sheet cuts through one.

import { make } from "./words.js";

/**
 * @param {HTMLElement} el the music in a page; its systems stand after it while it is printed
 * @param {() => SVGSVGElement[]} pieces of the music, from top to bottom
 */
export function printedBySystems(el, pieces) {
  const sheets = make("div", { "aria-hidden": "true" });
  window.addEventListener("beforeprint", () => {
    sheets.className = `${el.className} by-systems`;
    sheets.replaceChildren(...pieces().flatMap(systemsOf));
    if (sheets.hasChildNodes()) el.after(sheets);
  });
  window.addEventListener("afterprint", () => sheets.remove());
}

/**
 * @param {SVGSVGElement} piece
 * @returns {SVGSVGElement[]} of each system a drawing as high as it is; none of what isn't shown
 */
function systemsOf(piece) {
  const whole = piece.getBoundingClientRect();
  const { x, y, width, height } = piece.viewBox.baseVal;
  if (!whole.height || !height) return [];
  const systems = [...piece.querySelectorAll("g.system")];
  const boxes = systems.map((system) => {
    const { top, bottom } = system.getBoundingClientRect();
    return { top: top - whole.top, bottom: bottom - whole.top };
  });
  // Half-way to the next system; further where both reach into each other.
  const middles = boxes.slice(1).map(({ top }, k) => (boxes[k].bottom + top) / 2);
  return systems.map((system, k) => {
    const drawn = /** @type {SVGSVGElement} */ (withOnly(piece, system));
    const ends = [
      Math.min(middles[k - 1] ?? 0, boxes[k].top),
      Math.max(middles[k] ?? whole.height, boxes[k].bottom),
    ];
    const [from, to] = ends.map((px) => (px * height) / whole.height);
    drawn.setAttribute("viewBox", `${x} ${y + from} ${width} ${to - from}`);
    return drawn;
  });
}

/**
 * A copy with one of the systems; the glyphs stay where they are defined.
 * @param {Element} el
 * @param {Element} system
 * @returns {Node}
 */
function withOnly(el, system) {
  if (!el.contains(system) || el === system) return el.cloneNode(true);
  const copy = el.cloneNode(false);
  const kept = [...el.children].filter(
    (child) => child.contains(system) || !child.matches("defs, g.system, :has(g.system)"),
  );
  for (const child of kept) copy.appendChild(withOnly(child, system));
  return copy;
}
