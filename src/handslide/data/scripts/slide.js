// The horn's slide. The server draws it, in true mm (handslide.sheets.slide); here it moves: the
// brass to where the hand is, the frames to where it should be, and the words say which way to go.

import { jerkless } from "./motion.js";
import { fill, make, number } from "./words.js";

export const LENS_MM = 40;
export const IN_PLACE_MM = 5;

const calm = window.matchMedia("(prefers-reduced-motion: reduce)");

/**
 * A place as it is shown: `label` stands in the ruler, `words` beside the slide.
 * @typedef {{ valves: string[], extension_mm: number, label: string, words: string }} ShownPlace
 */

/**
 * Which way the slide should go, and how far.
 * @typedef {{ way: "in" | "out" | "hit", mm: number, words: string }} Reading
 */

/**
 * The reading for a slide that is `offMm` too far out (minus: too far in).
 * @param {number} offMm
 * @param {Texts} texts those of slide/texts.html
 * @returns {Reading}
 */
export function readingOf(offMm, texts) {
  const mm = Math.round(Math.abs(offMm));
  if (Math.abs(offMm) < IN_PLACE_MM) return { way: "hit", mm, words: texts.in_place };
  const [way, words] = offMm > 0 ? [/** @type {const} */ ("in"), texts.go_in] : [/** @type {const} */ ("out"), texts.go_out];
  return { way, mm, words: fill(words, { mm: number(mm) }) };
}

/**
 * @param {(NotePlace & { mark?: string }) | null} place
 * @returns {ShownPlace | null}
 */
function playable(place) {
  if (!place || place.extension_mm === null || place.partial === null) return null;
  const { valves, extension_mm, position, mark, words } = place;
  const label = mark ?? (position ? String(Math.round(position)) : "");
  return { valves, extension_mm, label, words: words ?? "" };
}

/**
 * @param {ParentNode} root
 * @param {string} name
 * @param {string} [within] a lens has brass of its own
 * @returns {SVGElement[]}
 */
const parts = (root, name, within = "") =>
  [...root.querySelectorAll(`${within} [data-slide="${name}"]`)].map(
    (found) => /** @type {SVGElement} */ (found),
  );

/**
 * @param {SVGElement} group
 * @param {number | null} mm null: it goes away
 */
function put(group, mm) {
  group.classList.toggle("is-away", mm === null);
  if (mm !== null) group.setAttribute("transform", `translate(${mm.toFixed(2)} 0)`);
}

export class Slide {
  /**
   * @param {HTMLElement} el may have the server's drawings in it already (slide/slide.html), one
   *   level and one upright
   * @param {SlideHorn} horn
   * @param {Texts} texts those of slide/texts.html
   */
  constructor(el, horn, texts) {
    this.texts = texts;
    this.horn = horn;
    this.asked = false; // whether any place was shown yet
    /** @type {ShownPlace | null} where the slide is, of itself */
    this.place = null;
    /** @type {ShownPlace | null} where the player's slide should be */
    this.aim = null;
    /** @type {ShownPlace | null} */
    this.soon = null;
    /** @type {number | null} where the player's slide is */
    this.at = null;
    /** @type {number | null} */
    this.last = null;
    this.mm = 0; // where the brass is drawn
    this.frame = 0;
    /** @type {{ lens: SVGElement, cone: SVGElement | null }[]} */
    this.lenses = [];
    this.words = make("span", { class: "slide-words" });
    this.off = make("span", { class: "slide-off" });
    this.el = el;
    if (!el.querySelector(".slide")) el.replaceChildren(make("div", { class: "slide" }));
    el.append(make("p", { class: "slide-row" }, this.words, this.off));
    this.setHorn(horn);
    for (const slide of this.slides) new ResizeObserver(() => this.draw()).observe(slide);
  }

  /** @returns {HTMLElement[]} */
  get slides() {
    return [...this.el.querySelectorAll(".slide")].map((one) => /** @type {HTMLElement} */ (one));
  }

  /**
   * Groups of the slide itself.
   * @param {string} name
   */
  own(name) {
    return parts(this.el, name, ".slide");
  }

  /** @param {SlideHorn} horn */
  setHorn(horn) {
    const same = this.horn.drawing === horn.drawing;
    this.horn = horn;
    for (const slide of this.slides) {
      if (same && slide.firstElementChild) continue;
      // Our own server drew it; what others wrote is not in it.
      slide.innerHTML = slide.classList.contains("upright") ? horn.upright : horn.drawing;
    }
    this.draw();
    this.say();
  }

  /**
   * A lens round the aimed place, and the cone that ties it to the slide.
   * @param {Element} lens the SVG of slide/slide.html
   * @param {Element | null} [cone]
   */
  lens(lens, cone = null) {
    const svg = /** @type {SVGElement} */ (lens);
    this.lenses.push({ lens: svg, cone: /** @type {SVGElement | null} */ (cone) });
    new ResizeObserver(() => this.draw()).observe(lens);
    this.draw();
  }

  /**
   * The slide goes to a place within `ms`; null: nothing to play, the slide stays.
   * @param {NotePlace | null} place
   */
  show(place, { ms = 0 } = {}) {
    this.asked = true;
    this.place = playable(place);
    if (this.place) this.moveTo(this.place.extension_mm, ms);
    this.changed();
  }

  /**
   * Where the player's slide should be now: a frame, the ruler of its valves, the lens.
   * @param {NotePlace | null} place
   */
  target(place) {
    this.asked = true;
    this.aim = playable(place);
    this.changed();
  }

  /**
   * Where it goes next: framed in the ruler.
   * @param {NotePlace | null} place
   */
  next(place) {
    this.soon = playable(place);
    this.changed();
  }

  /**
   * Where the slide was at another time, such as in the last take; null: not shown.
   * @param {number | null} extensionMm
   */
  ghost(extensionMm) {
    this.last = extensionMm;
    for (const group of this.own("ghost")) put(group, extensionMm);
  }

  /**
   * Where the player's slide is: the brass goes there at once. null: not known, it stays, paler.
   * @param {number | null} extensionMm
   */
  now(extensionMm) {
    this.at = extensionMm;
    if (extensionMm !== null) {
      this.moveTo(Math.max(-30, Math.min(this.horn.travel_mm + 40, extensionMm)), 0);
    }
    this.changed();
  }

  /** What the player is to do; null where the slide or the aim isn't known. */
  get reading() {
    const aim = this.aim ?? this.place;
    return aim && this.at !== null ? readingOf(this.at - aim.extension_mm, this.texts) : null;
  }

  /**
   * @param {number} mm
   * @param {number} ms
   */
  moveTo(mm, ms) {
    cancelAnimationFrame(this.frame);
    const from = this.mm;
    if (ms <= 0 || calm.matches || Math.abs(mm - from) < 0.5) {
      this.put(mm);
      return;
    }
    const begin = performance.now();
    /** @param {number} now */
    const step = (now) => {
      const t = Math.min(1, Math.max(0, (now - begin) / ms));
      this.put(from + (mm - from) * jerkless(t));
      if (t < 1) this.frame = requestAnimationFrame(step);
    };
    this.frame = requestAnimationFrame(step);
  }

  /** @param {number} mm */
  put(mm) {
    this.mm = mm;
    for (const group of this.own("outer")) put(group, mm);
    this.drawLenses();
  }

  changed() {
    this.draw();
    this.say();
  }

  // Everything at its place again: when a place, the horn or the width changes.
  draw() {
    for (const group of this.own("outer")) put(group, this.mm);
    for (const group of this.own("target")) put(group, this.aim?.extension_mm ?? null);
    for (const group of this.own("next")) put(group, this.soon?.extension_mm ?? null);
    for (const group of this.own("ghost")) put(group, this.last);
    const here = this.aim ?? this.place;
    const known = this.aim === null || this.at !== null;
    for (const slide of this.slides) {
      slide.dataset.state = known ? this.reading?.way ?? "still" : "unknown";
      slide.dataset.valves = (here?.valves ?? []).join("+");
    }
    for (const ruler of this.own("ruler")) this.drawRuler(ruler, here);
    this.drawLenses();
  }

  /**
   * @param {SVGElement} ruler
   * @param {ShownPlace | null} here
   */
  drawRuler(ruler, here) {
    const upright = ruler.classList.contains("upright");
    const down = (here?.valves ?? []).join("+");
    for (const marks of parts(ruler, "marks")) {
      marks.classList.toggle("is-on", marks.dataset.valves === down);
    }
    const boxes = [];
    for (const [name, place] of /** @type {const} */ ([["soon", this.soon], ["here", here]])) {
      const [box] = parts(ruler, name);
      const same = name === "soon" && place?.extension_mm === here?.extension_mm;
      box.classList.toggle("is-away", !place || same);
      if (!place || same) continue;
      box.setAttribute(upright ? "y" : "x", this.share(place.extension_mm, upright));
      const text = box.querySelector("text");
      const rect = box.querySelector("rect");
      if (!text || !rect) continue;
      text.textContent = place.label;
      const width = Math.max(24, text.getComputedTextLength() + 12);
      rect.setAttribute("width", width.toFixed(1));
      rect.setAttribute("x", (upright ? -10 - width : -width / 2).toFixed(1));
      text.setAttribute("x", (upright ? -10 - width / 2 : 0).toFixed(1));
      boxes.push(rect.getBoundingClientRect());
    }
    // A number of the ruler under a box would shine out at its sides.
    for (const mark of ruler.querySelectorAll(".marks.is-on > .mark")) {
      const own = mark.querySelector("text")?.getBoundingClientRect();
      const hides = boxes.some(
        (box) =>
          own && own.left < box.right + 2 && own.right > box.left - 2 &&
          own.top < box.bottom && own.bottom > box.top,
      );
      mark.classList.toggle("is-covered", hides);
    }
  }

  /**
   * Where an extension lies in the ruler.
   * @param {number} mm
   * @param {boolean} upright
   */
  share(mm, upright) {
    const share = 100 * this.shareOf(mm);
    return `${(upright ? 100 - share : share).toFixed(4)}%`;
  }

  /**
   * Where the hand is at an extension, as a share of the drawing's width.
   * @param {number} mm
   */
  shareOf(mm) {
    const [tubes] = this.own("tubes");
    return (Number(tubes.dataset.stop) + mm) / Number(tubes.dataset.width);
  }

  /**
   * The signs of the valves that are down with these, to stand elsewhere and larger.
   * @param {string[]} valves
   * @returns {SVGElement[]}
   */
  pressed(valves) {
    const [ruler] = this.own("ruler");
    const set = parts(ruler, "marks").find((marks) => marks.dataset.valves === valves.join("+"));
    return [...(set?.querySelectorAll(".lever.is-down") ?? [])].map((lever) => {
      const svg = document.createElementNS("http://www.w3.org/2000/svg", "svg");
      svg.setAttribute("viewBox", "-16 -29 32 46");
      const own = /** @type {SVGElement} */ (lever.cloneNode(true));
      own.removeAttribute("transform");
      svg.append(own);
      return svg;
    });
  }

  drawLenses() {
    const aim = this.aim ?? this.place;
    const off = aim && this.at !== null ? this.at - aim.extension_mm : null;
    const state = off === null ? "unknown" : readingOf(off, this.texts).way;
    for (const { lens, cone } of this.lenses) {
      lens.dataset.state = state;
      for (const group of parts(lens, "now")) {
        if (off !== null) put(group, Math.max(-60, Math.min(60, off)));
        group.classList.toggle("is-away", this.at === null && !group.hasAttribute("transform"));
      }
      for (const arrow of parts(lens, "go")) this.drawArrow(arrow, off);
      if (cone) this.drawCone(lens, cone, aim);
    }
  }

  /**
   * @param {SVGElement} arrow
   * @param {number | null} off
   */
  drawArrow(arrow, off) {
    const shown = off !== null && Math.abs(off) >= IN_PLACE_MM;
    arrow.classList.toggle("is-away", !shown);
    if (!shown) return;
    const from = LENS_MM + Math.max(-LENS_MM + 1, Math.min(LENS_MM - 1, off));
    const back = off > 0 ? 1 : -1;
    const line = `M${from.toFixed(2)} 13.4H${LENS_MM + 1.2 * back}`;
    const [under, shaft, head] = arrow.children;
    under.setAttribute("d", line);
    shaft.setAttribute("d", line);
    head.setAttribute("d", `M${LENS_MM} 13.4l${4.4 * back} -2.7v5.4z`);
  }

  /**
   * From the lens to the ±40 mm of the slide that it shows.
   * @param {SVGElement} lens
   * @param {SVGElement} cone an SVG that lies over both
   * @param {ShownPlace | null} aim
   */
  drawCone(lens, cone, aim) {
    const tubes = this.own("tubes").find((one) => one.getClientRects().length);
    const shape = cone.querySelector("polygon");
    cone.classList.toggle("is-away", !aim || !tubes);
    if (!aim || !tubes || !shape) return;
    const over = cone.getBoundingClientRect();
    const from = lens.getBoundingClientRect();
    const to = tubes.getBoundingClientRect();
    const scale = to.width / Number(tubes.dataset.width);
    const x = to.left + (Number(tubes.dataset.stop) + aim.extension_mm) * scale - over.left;
    const [top, low] = [from.bottom - over.top, to.top - over.top];
    const corners = [
      [from.left - over.left, top], [from.right - over.left, top],
      [x + LENS_MM * scale, low], [x - LENS_MM * scale, low],
    ];
    shape.setAttribute("points", corners.map((one) => one.map((v) => v.toFixed(1)).join(",")).join(" "));
  }

  say() {
    const none = this.asked ? this.texts.nothing : "";
    const place = this.aim ?? this.place;
    this.words.textContent = place ? place.words : none;
    const reading = this.reading;
    this.off.textContent = reading?.words ?? "";
    this.off.dataset.state = reading?.way ?? "";
    for (const tubes of this.own("tubes")) {
      tubes.removeAttribute("aria-hidden");
      tubes.setAttribute("role", "img");
      tubes.setAttribute("aria-label", fill(this.texts.label, { place: place?.words || "–" }));
    }
  }
}
