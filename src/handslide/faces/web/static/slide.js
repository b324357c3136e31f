// The horn's slide, drawn to scale along its way: the player's hand holds the brass stay, and the
// stay stands over a ruler with the positions of the open horn and, under it, those of the valve.

import { fill } from "/static/shell.js";
import { make, number } from "/static/words.js";

const NS = "http://www.w3.org/2000/svg";
const LEFT = 40; // least room before the closed stop, in px
const LABEL = 4; // where the names of the rulers begin, in px
const RIGHT = 14;
const BOW_MM = 150; // the drawing leaves out the length of the outer slide behind this
const TUBES = [34, 62];
const RULER = 96;
const SECOND = 134;
const IN_PLACE_MM = 5;
let drawn = 0;

const calm = window.matchMedia("(prefers-reduced-motion: reduce)");

/**
 * Where a note is played, if it can be.
 * @typedef {{ valves: string[], extension_mm: number, words: string | null }} ShownPlace
 */

/**
 * Share of the way at share `t` of the time, for a move with the least jerk.
 * @param {number} t
 */
const jerkless = (t) => t * t * t * (10 + t * (6 * t - 15));

/**
 * @template {keyof SVGElementTagNameMap} T
 * @param {T} tag
 * @param {Record<string, string | number>} attributes
 * @param {SVGElement} [parent]
 * @returns {SVGElementTagNameMap[T]}
 */
function svg(tag, attributes, parent) {
  const element = document.createElementNS(NS, tag);
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, String(value));
  parent?.append(element);
  return element;
}

/**
 * @param {number} offMm
 * @param {Texts} texts
 */
function offWords(offMm, texts) {
  if (Math.abs(offMm) < IN_PLACE_MM) return texts.in_place;
  const key = offMm > 0 ? texts.too_far : texts.too_short;
  return fill(key, { mm: number(Math.abs(offMm)) });
}

/** @param {string} valve */
const pretty = (valve) => valve[0] + valve.slice(1).replace("b", "♭").replace("#", "♯");

/**
 * @param {NotePlace | null} place
 * @returns {ShownPlace | null}
 */
function playable(place) {
  if (!place || place.extension_mm === null || place.partial === null) return null;
  return { valves: place.valves, extension_mm: place.extension_mm, words: place.words ?? null };
}

export class Slide {
  /**
   * @param {HTMLElement} el
   * @param {SlideHorn} horn
   * @param {Texts} texts those of slide/texts.html
   */
  constructor(el, horn, texts) {
    this.texts = texts;
    this.horn = horn;
    /** @type {ShownPlace | null} */
    this.place = null;
    this.asked = false; // whether any place was shown yet
    /** @type {number | null} where the player's slide is */
    this.now = null;
    this.mm = 0; // where the drawn slide is
    this.pxPerMm = 1;
    this.left = LEFT; // where the closed stop is
    this.frame = 0;
    // Drawn anew by `draw`.
    this.outer = svg("g", {});
    this.marker = svg("g", {});
    this.pointer = svg("line", {});
    /** @type {SVGRectElement[]} */
    this.inner = [];
    this.id = `slide-${++drawn}`;
    this.svg = svg("svg", { class: "slide-drawing", role: "img" });
    this.valves = make("span", { class: "slide-valves" });
    this.words = make("span", { class: "slide-words" });
    this.off = make("span", { class: "slide-off" });
    this.el = make("div", { class: "slide", "aria-live": "off" });
    const row = make("p", { class: "slide-row" }, this.valves, this.words, this.off);
    this.el.append(this.svg, row);
    el.replaceChildren(this.el);
    this.setHorn(horn);
    new ResizeObserver(() => this.draw()).observe(this.el);
  }

  /** @param {SlideHorn} horn */
  setHorn(horn) {
    this.horn = horn;
    this.valves.replaceChildren(
      ...horn.valves.map((name) => make("span", { class: "slide-valve" }, pretty(name))),
    );
    this.draw();
    this.say();
  }

  /**
   * The slide goes to a place within `ms`; null: nothing to play, the slide stays.
   * @param {NotePlace | null} place
   */
  show(place, { ms = 0 } = {}) {
    const before = (this.place?.valves ?? []).join("+");
    this.asked = true;
    this.place = playable(place);
    if ((this.place?.valves ?? []).join("+") !== before) this.draw();
    this.say();
    if (this.place) this.moveTo(this.place.extension_mm, calm.matches ? 0 : ms);
    this.drawNow();
  }

  /**
   * Where the player's slide is now, beside where it should be; null: not known.
   * @param {number | null} extensionMm
   */
  showNow(extensionMm) {
    this.now = extensionMm;
    this.drawNow();
  }

  /**
   * @param {number} mm
   * @param {number} ms
   */
  moveTo(mm, ms) {
    cancelAnimationFrame(this.frame);
    const from = this.mm;
    if (ms <= 0 || Math.abs(mm - from) < 0.5) {
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
  x(mm) {
    return this.left + mm * this.pxPerMm;
  }

  // Everything but what moves; again when the width, the horn or the valves change.
  draw() {
    const width = Math.max(260, this.el.clientWidth || 640);
    const horn = this.horn;
    const second = this.secondRow();
    const height = horn.valves.length ? SECOND + 30 : RULER + 32;
    this.svg.replaceChildren();
    this.left = Math.max(LEFT, this.room(this.texts.open));
    this.pxPerMm = (width - this.left - RIGHT) / (horn.travel_mm + BOW_MM);
    this.svg.setAttribute("viewBox", `0 0 ${width} ${height}`);
    this.svg.setAttribute("width", String(width));
    this.svg.setAttribute("height", String(height));
    this.reach(height);
    this.ruler(RULER, horn.positions, this.texts.open, "slide-open");
    if (second) this.ruler(SECOND, second.rows, second.name, second.kind);
    this.tubes();
    this.marker = svg("g", { class: "slide-now" }, this.svg);
    this.put(this.mm);
    this.drawNow();
  }

  /**
   * The room, in px, that a ruler's name needs before the closed stop.
   * @param {string} name
   */
  room(name) {
    const text = svg("text", { class: "slide-label" }, this.svg);
    text.textContent = name;
    const length = text.getComputedTextLength();
    text.remove();
    return LABEL + length + 6;
  }

  // The positions of the valves that are down; of the first valve, pale, when none is.
  secondRow() {
    const down = (this.place?.valves ?? []).join("+");
    const which = down || this.horn.valves[0];
    const rows = this.horn.positions_with?.[which];
    if (!rows) return null;
    const name = which.split("+").map(pretty).join("");
    return { rows, name, kind: down ? "slide-with" : "slide-idle" };
  }

  /**
   * @param {number} y
   * @param {SlidePosition[]} positions
   * @param {string} label
   * @param {string} kind
   */
  ruler(y, positions, label, kind) {
    const group = svg("g", { class: `slide-ruler ${kind}` }, this.svg);
    const end = this.x(this.horn.travel_mm);
    svg("line", { x1: this.x(0), y1: y, x2: end, y2: y }, group);
    svg("text", { x: LABEL, y: y + 5, class: "slide-label" }, group).textContent = label;
    for (const { n, mm } of positions) {
      const x = this.x(mm);
      svg("line", { x1: x, y1: y - 7, x2: x, y2: y + 4, "data-mm": mm }, group);
      svg("text", { x, y: y + 20, "text-anchor": "middle" }, group).textContent = String(n);
    }
  }

  /** @param {number} height */
  reach(height) {
    const { reach_mm: reach, travel_mm: travel } = this.horn;
    if (reach === null || reach === undefined || reach >= travel - 1) return;
    const hatch = svg(
      "pattern",
      { id: this.id, width: 7, height: 7, patternUnits: "userSpaceOnUse", patternTransform: "rotate(45)" },
      svg("defs", {}, this.svg),
    );
    svg("line", { x1: 0, y1: 0, x2: 0, y2: 7, class: "slide-hatch" }, hatch);
    const group = svg("g", { class: "slide-reach" }, this.svg);
    const x = this.x(reach) + 6;
    const width = Math.max(0, this.x(travel) + 6 - x);
    svg("rect", { x, y: RULER - 14, width, height: height - RULER + 12, fill: `url(#${this.id})` }, group);
    svg("line", { x1: x, y1: 16, x2: x, y2: height - 2 }, group);
    const words = svg("text", { x: x - 5, y: 15, "text-anchor": "end" }, group);
    words.textContent = this.texts.reach;
  }

  tubes() {
    const back = svg("g", { class: "slide-inner" }, this.svg);
    this.inner = TUBES.map((y) => svg("rect", { x: 2, y: y - 4, height: 8, width: 10 }, back));
    svg("rect", { x: this.left - 20, y: TUBES[0] - 6, width: 7, height: TUBES[1] - TUBES[0] + 12, rx: 2 }, back);
    this.outer = svg("g", { class: "slide-outer" }, this.svg);
    const bow = BOW_MM * this.pxPerMm - 6;
    const bend = (TUBES[1] - TUBES[0]) / 2;
    const [top, low] = TUBES;
    const path = `M0 ${top}H${bow - bend}a${bend} ${bend} 0 0 1 0 ${2 * bend}H0`;
    const area = { x: -20, y: 0, width: bow + 40, height: RULER };
    const mask = { id: `${this.id}-gaps`, maskUnits: "userSpaceOnUse", ...area };
    const gaps = svg("mask", mask, this.outer);
    svg("rect", { ...area, fill: "white" }, gaps);
    const brass = svg("g", { mask: `url(#${this.id}-gaps)` }, this.outer);
    svg("path", { d: path, class: "slide-tube-edge" }, brass);
    svg("path", { d: path, class: "slide-tube" }, brass);
    // The sign for a length that is left out.
    const cut = (bow - bend) * 0.6;
    for (const y of TUBES) {
      const down = "q3.5 4.25 0 8.5t0 8.5";
      const up = "q-3.5 -4.25 0 -8.5t0 -8.5";
      svg("path", { d: `M${cut} ${y - 8.5}${down}h5${up}z`, fill: "black" }, gaps);
      svg("path", { d: `M${cut} ${y - 8.5}${down}m5 0${up}`, class: "slide-cut" }, this.outer);
    }
    svg("rect", { x: -5, y: top - 9, width: 10, height: low - top + 18, rx: 3, class: "slide-stay" }, this.outer);
    this.pointer = svg("line", { x1: 0, y1: low + 9, x2: 0, y2: RULER - 1, class: "slide-pointer" }, this.outer);
  }

  /** @param {number} mm */
  put(mm) {
    this.mm = mm;
    const x = this.x(mm);
    this.outer.setAttribute("transform", `translate(${x.toFixed(2)} 0)`);
    const foot = this.secondRow()?.kind === "slide-with" ? SECOND : RULER;
    this.pointer.setAttribute("y2", String(foot - 1));
    for (const tube of this.inner) tube.setAttribute("width", Math.max(1, x + 6 - 2).toFixed(2));
  }

  drawNow() {
    this.marker.replaceChildren();
    if (this.now === null) {
      this.off.textContent = "";
      return;
    }
    const now = Math.max(-30, Math.min(this.horn.travel_mm + 40, this.now));
    const x = this.x(now);
    if (this.place) {
      const off = this.now - this.place.extension_mm;
      const should = this.x(this.place.extension_mm);
      const fits = Math.abs(off) < IN_PLACE_MM;
      this.marker.dataset.state = fits ? "good" : "off";
      this.off.dataset.state = this.marker.dataset.state;
      if (!fits) {
        const from = Math.min(x, should);
        svg("rect", { x: from, y: 9, width: Math.abs(x - should), height: 5 }, this.marker);
      }
      this.off.textContent = offWords(off, this.texts);
    } else {
      this.marker.dataset.state = "off";
      this.off.textContent = "";
    }
    const down = RULER - 2;
    svg("path", { d: `M${x - 8} 4h16l-8 15z`, "data-mm": this.now }, this.marker);
    svg("line", { x1: x, y1: 18, x2: x, y2: down }, this.marker);
  }

  say() {
    const down = new Set(this.place?.valves ?? []);
    [...this.valves.children].forEach((chip, k) => {
      chip.setAttribute("data-down", String(down.has(this.horn.valves[k])));
    });
    const none = this.asked ? this.texts.nothing : "";
    const words = this.place?.words ?? none;
    this.words.textContent = words;
    this.svg.setAttribute("aria-label", fill(this.texts.label, { place: words || "–" }));
  }
}
