// What stands beside and over the engraved music: warnings in its margin, words on its marks.

import { around } from "./page.js";
import { fill, make } from "./words.js";

const TIP_MS = 350; // so long the pointer rests on a note before its words come

/** @typedef {import("./music.js").Music} Music */

// A mark at the end of each system that has something to be warned of.
export class Margin {
  /**
   * @param {HTMLElement} el lies over the music
   * @param {Music} music
   * @param {Texts} texts
   * @param {(i: number) => void} go is called with the first note that is meant
   */
  constructor(el, music, texts, go) {
    this.el = el;
    this.music = music;
    this.texts = texts;
    /** @type {RouteWarning[]} */
    this.rows = [];
    el.addEventListener("click", (event) => {
      const mark = around(event, "[data-i]");
      if (mark) go(Number(mark.dataset.i));
    });
    el.addEventListener("keydown", (event) => this.move(event));
  }

  /** @param {RouteWarning[]} rows */
  show(rows) {
    this.rows = rows;
    this.lay();
  }

  lay() {
    /** @type {Map<Element, RouteWarning[]>} */
    const systems = new Map();
    for (const row of this.rows) {
      const spot = row.i === null ? undefined : this.music.spots.get(row.i);
      if (spot) systems.set(spot.system, [...(systems.get(spot.system) ?? []), row]);
    }
    const had = this.el.contains(document.activeElement);
    const first = had ? document.activeElement?.getAttribute("data-i") : null;
    const top = this.el.getBoundingClientRect().top;
    const marks = [...systems].map(([system, rows]) => this.mark(system, rows, top));
    marks.sort((a, b) => parseFloat(a.style.top) - parseFloat(b.style.top));
    // The marks are one stop of the tabulator; arrows go from one to the next.
    marks.forEach((mark, k) => (mark.tabIndex = k ? -1 : 0));
    this.el.replaceChildren(...marks);
    if (had) (marks.find((mark) => mark.dataset.i === first) ?? marks[0])?.focus();
  }

  /**
   * @param {Element} system
   * @param {RouteWarning[]} rows
   * @param {number} top
   */
  mark(system, rows, top) {
    const staff = (system.querySelector("g.staff") ?? system).getBoundingClientRect();
    const says = rows.map(({ measure, text }) => (measure ? fill(this.texts.warning_at, { measure, text }) : text));
    const mark = make("button", { type: "button", class: "margin-mark", "data-i": rows[0].i, "aria-label": says.join(" ") });
    mark.innerHTML = '<svg aria-hidden="true"><use href="#sign-warning"/></svg>';
    mark.append(make("span", { class: "warn-says", "aria-hidden": "true" }, ...says.map((one) => make("span", {}, one))));
    mark.style.top = `${(staff.top + staff.bottom) / 2 - top}px`;
    return mark;
  }

  /** @param {KeyboardEvent} event */
  move(event) {
    const by = { ArrowDown: 1, ArrowRight: 1, ArrowUp: -1, ArrowLeft: -1 }[event.key];
    const at = [...this.el.children].indexOf(/** @type {Element} */ (document.activeElement));
    const to = by && this.el.children[at + by];
    if (!(to instanceof HTMLElement)) return;
    event.preventDefault();
    for (const mark of this.el.children) mark.setAttribute("tabindex", mark === to ? "0" : "-1");
    to.focus();
  }
}

// Words that come up when a mouse rests on a note, its wedge or the slide's path; for keys and fingers
// the panel says those of a note.
export class Tip {
  /**
   * @param {HTMLElement} el
   * @param {HTMLElement} score
   * @param {(i: number) => string[]} says
   * @param {string} path what the path says
   */
  constructor(el, score, says, path) {
    this.el = el;
    this.says = says;
    this.path = path;
    this.timer = 0;
    /** @type {Element | null} */
    this.over = null;
    score.addEventListener("pointerover", (event) => this.come(event));
    score.addEventListener("pointerleave", () => this.go());
    score.addEventListener("pointerdown", () => this.go());
    document.addEventListener("scroll", () => this.go(), true);
    document.addEventListener("keydown", () => this.go());
  }

  /** @param {PointerEvent} event */
  come(event) {
    if (event.pointerType !== "mouse") return;
    /** @type {HTMLElement | null} */
    const hit = around(event, ".hit, .wedge, .slide-path");
    if (hit === this.over) return;
    this.go();
    this.over = hit;
    const at = { x: event.clientX, y: event.clientY };
    if (hit) this.timer = setTimeout(() => this.show(hit, at), TIP_MS);
  }

  /**
   * @param {HTMLElement} hit
   * @param {{ x: number, y: number }} at
   */
  show(hit, at) {
    const { i } = hit.dataset;
    const lines = i === undefined ? [this.path] : this.says(Number(i));
    if (!lines.length) return;
    this.el.replaceChildren(...lines.map((line) => make("span", {}, line)));
    this.el.hidden = false;
    const box = i === undefined ? new DOMRect(at.x, at.y - 8, 0, 16) : hit.getBoundingClientRect();
    const own = this.el.getBoundingClientRect();
    const left = Math.max(8, Math.min(innerWidth - own.width - 8, box.left + box.width / 2 - own.width / 2));
    const over = box.top - own.height - 6;
    this.el.style.left = `${left}px`;
    this.el.style.top = `${over > 8 ? over : box.bottom + 6}px`;
  }

  go() {
    clearTimeout(this.timer);
    this.over = null;
    this.el.hidden = true;
  }
}
