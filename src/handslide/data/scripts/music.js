// The engraved music in a page: its marks follow the route, its notes can be picked.
//
// Lengths inside are hundredths of a millimetre, as the engraving counts.

import { around, isAbort } from "./page.js";
import { printedBySystems } from "./paper.js";
import { drawUnder, makeRoom } from "./slidepath.js";

const NS = "http://www.w3.org/2000/svg";
/** @type {[number, string][]} */
export const BREAKS = [[520, "narrow"], [800, "medium"], [Infinity, "wide"]];
/** @type {[string, number][]} the widths that are engraved, in mm */
const WIDTHS = [["wide", 190], ["medium", 138], ["narrow", 88]];
const MOST_PX = 1056; // a desk's music is no wider, unless the window is very wide
const GAP_EM = 0.28; // least space between neighbouring marks
const HALF = 260; // most half width of the column that picks a note
const NEAR_PX = 30; // a tap beside all columns takes the nearest within this
const calm = window.matchMedia("(prefers-reduced-motion: reduce)");

/**
 * Where a written note stands: its group, mark and column, and its place in its system.
 * @typedef {{
 *   i: number, group: SVGGraphicsElement, system: Element, mark: SVGTextElement | null,
 *   hit: SVGRectElement, centre: number, top: number, bottom: number,
 * }} Spot
 * What gives the engraving of a width (narrow, medium, wide), each piece to stand below the one before.
 * @typedef {(width: string, signal: AbortSignal) => AsyncIterableIterator<SVGSVGElement>} Pieces
 * @typedef {Pick<RouteNote, "i" | "el"> & Partial<RouteNote>} ShownNote
 * @typedef {{ mark: SVGTextElement, at: number, half: number, size: number, offset: number }} Placed
 */

export class Music {
  /**
   * @param {HTMLElement} el
   * @param {Pieces} pieces gives the music
   * @param {(i: number) => void} [pick] is called for a note that was clicked or tapped
   */
  constructor(el, pieces, pick = () => {}, { printed = true } = {}) {
    this.el = el;
    this.pieces = pieces;
    /** @type {string | null} */
    this.width = null;
    /** @type {SVGSVGElement[]} the pieces that are here, from top to bottom */
    this.svgs = [];
    /** @type {Set<string>} the names of the glyphs that are defined in them */
    this.glyphs = new Set();
    /** @type {AbortController | null} of the pieces that are still to come */
    this.coming = null;
    this.loading = false; // whether the first of another engraving is to come
    /** @type {Promise<unknown>} what the pieces after the first wait for */
    this.first = Promise.resolve();
    /** @param {Error} error */
    this.broken = (error) => console.error(error);
    /** @type {ShownNote[]} */
    this.notes = [];
    /** @type {Map<number, Spot>} */
    this.spots = new Map();
    /** @type {number | null} */
    this.selected = null;
    /** @type {number | null} */
    this.playing = null;
    /** @type {number | null} */
    this.seen = null;
    /** @type {{ i: number, room: { top?: number, bottom?: number } } | null} */
    this.awaited = null;
    this.kind = "all";
    this.zoom = 1;
    /** @type {Map<number, number>} of the last take: by how many mm the slide was too far out */
    this.off = new Map();
    this.pathed = false; // whether there is room for the slide's path under the staves
    /** @type {import("./slidepath.js").PathOf | null} */
    this.pathOf = null;
    // Called when systems have come or stand elsewhere.
    this.laid = () => {};
    /** @type {() => { top?: number, bottom?: number }} what of the window is free for the music */
    this.free = () => ({});
    /** @type {HTMLElement | null} what scrolls, if it isn't the window */
    this.paper = el.closest(".paper");
    /** @type {(note: ShownNote) => boolean} */
    this.inside = () => true;
    el.addEventListener("click", (event) => {
      const i = this.at(event);
      if (i !== null) pick(i);
    });
    // What is engraved anew between press and release is told no click by the browser.
    /** @type {{ i: number, drawing: Element } | null} */
    let pressed = null;
    el.addEventListener("pointerdown", (event) => {
      const i = event.isPrimary && event.button === 0 ? this.at(event) : null;
      const drawing = around(event, "svg");
      pressed = i === null || !drawing ? null : { i, drawing };
    });
    window.addEventListener("pointerup", () => {
      if (pressed && !pressed.drawing.isConnected) pick(pressed.i);
      pressed = null;
    });
    window.addEventListener("pointercancel", () => (pressed = null));
    if (printed) printedBySystems(el, () => this.svgs);
    let timer = 0;
    new ResizeObserver(() => {
      clearTimeout(timer);
      timer = setTimeout(() => this.fit(), this.zoom === 1 ? 250 : 0);
      if (this.width && this.plan().width !== this.width) this.busy(true);
      this.laid();
    }).observe(el);
  }

  // The engraving that suits the room, and how wide it is shown, in px; null: as wide as the room.
  plan() {
    const room = this.room();
    const own = BREAKS.find(([most]) => room < most)?.[1] ?? "wide";
    if (this.zoom === 1) return { width: own, px: null };
    const most = Math.min(room, Math.max(MOST_PX, 0.75 * room));
    const scale = (this.zoom * most) / (WIDTHS.find(([name]) => name === own)?.[1] ?? 190);
    // Larger music has fewer measures in a line, as long as there is a narrower engraving.
    const [width, mm] = WIDTHS.find(([, one]) => one * scale <= 1.04 * room) ?? WIDTHS[2];
    return { width, px: Math.round(mm * scale) };
  }

  room() {
    const { paddingLeft, paddingRight } = getComputedStyle(this.el);
    return this.el.clientWidth - parseFloat(paddingLeft) - parseFloat(paddingRight);
  }

  /**
   * How large the music is shown; 1 is as it suits the window.
   * @param {number} zoom
   */
  setZoom(zoom) {
    this.zoom = zoom;
    this.fit();
  }

  // Shows the music as it suits the room; another engraving is fetched where it needs one.
  fit() {
    // What was taken out of the page has no room to fit into.
    if (!this.width || !this.el.isConnected) return;
    const { width, px } = this.plan();
    this.el.style.setProperty("--music-width", px === null ? "100%" : `${px}px`);
    this.el.toggleAttribute("data-zoomed", px !== null);
    if (width !== this.width) this.load().catch((error) => this.broken(error));
    else {
      if (!this.loading) this.busy(false);
      this.laid();
    }
  }

  /** @param {boolean} on whether other music is on its way */
  busy(on) {
    this.el.classList.toggle("busy", on);
    this.el.setAttribute("aria-busy", String(on));
  }

  /** Draws the first piece of the music; the others follow by themselves, each below the last. */
  async load() {
    const { width } = this.plan();
    this.coming?.abort();
    const mine = (this.coming = new AbortController());
    const face = document.fonts.load('700 16px "Handslide Marks"');
    this.loading = true;
    this.busy(true);
    const found = this.pieces(width, mine.signal);
    try {
      const first = await found.next();
      await face;
      if (first.done || mine.signal.aborted) return;
      // Engraved anew, the chosen note stands elsewhere.
      if (this.width && this.selected !== null) this.awaited = { i: this.selected, room: this.free() };
      this.width = width;
      this.el.dataset.width = width;
      this.svgs = [];
      this.glyphs.clear();
      this.spots.clear();
      this.el.replaceChildren();
      this.fit();
      this.add(first.value);
      this.rest(found, mine.signal);
    } catch (error) {
      if (!isAbort(error)) throw error;
    } finally {
      if (!mine.signal.aborted) {
        this.loading = false;
        this.busy(false);
      }
    }
  }

  /**
   * @param {AsyncIterableIterator<SVGSVGElement>} found
   * @param {AbortSignal} signal
   */
  async rest(found, signal) {
    try {
      await this.first;
      for await (const svg of found) {
        // Between two pieces the page is free: what is there can be read and pressed.
        await new Promise((go) => setTimeout(go));
        if (signal.aborted) return;
        this.add(svg);
      }
    } catch (error) {
      if (!isAbort(error)) this.broken(/** @type {Error} */ (error));
    }
  }

  /** @param {SVGSVGElement} svg */
  add(svg) {
    // A second glyph of one name would make the browser build anew all that use it.
    for (const glyph of svg.querySelectorAll("defs > *")) {
      if (this.glyphs.has(glyph.id)) glyph.remove();
      else this.glyphs.add(glyph.id);
    }
    this.svgs.push(svg);
    if (this.pathed) makeRoom(svg, true);
    this.el.append(svg);
    this.find([svg]);
  }

  /** @param {ShownNote[]} notes as in the JSON of the route */
  setNotes(notes) {
    this.notes = notes;
    this.find();
  }

  /** @param {SVGSVGElement[]} svgs where notes are looked for */
  find(svgs = this.svgs) {
    const numbers = new Map(this.notes.map(({ el, i }) => [el, i]));
    /** @type {Map<Element, Spot[]>} */
    const systems = new Map();
    for (const svg of svgs) {
      for (const old of svg.querySelectorAll(".hit")) old.remove();
      for (const system of svg.querySelectorAll("g.system")) {
        const spots = spotsIn(system, numbers);
        if (spots.length) systems.set(system, spots);
      }
    }
    const fresh = [...systems.values()].flat();
    for (const spot of fresh) this.spots.set(spot.i, spot);
    for (const [system, spots] of systems) layHits(system, spots);
    for (const { i } of fresh) this.write(this.notes[i]);
    this.drawUnder(systems);
    this.apart([...systems.keys()]);
    this.dim(fresh);
    this.lookedTo(this.seen);
    this.mark("is-on", this.selected);
    this.mark("is-playing", this.playing);
    if (this.awaited !== null && systems.size && this.spots.has(this.awaited.i)) {
      this.reveal(this.awaited.i, this.awaited.room);
    }
    this.laid();
  }

  /**
   * Wedges under the notes that were off in the last take: the way that the slide should go.
   * @param {Map<number, number>} off by written note, mm too far out
   */
  setOff(off) {
    this.off = off;
    this.drawUnder();
  }

  /**
   * The path of the slide under the staves.
   * @param {boolean} on
   * @param {import("./slidepath.js").PathOf | null} of
   */
  setPath(on, of = this.pathOf) {
    if (on !== this.pathed) for (const svg of this.svgs) makeRoom(svg, on);
    this.pathed = on;
    this.pathOf = of;
    this.drawUnder();
    this.laid();
  }

  drawUnder(systems = this.systemsOf(this.spots.values())) {
    const what = { path: this.pathed ? this.pathOf : null, off: this.off, inside: this.inside };
    for (const [system, spots] of systems) drawUnder(system, spots, this.notes, what);
  }

  /**
   * @param {Iterable<Spot>} spots
   * @returns {Map<Element, Spot[]>} those of a system from left to right
   */
  systemsOf(spots) {
    const systems = new Map();
    for (const spot of spots) {
      if (!systems.has(spot.system)) systems.set(spot.system, []);
      systems.get(spot.system).push(spot);
    }
    for (const row of systems.values()) row.sort((/** @type {Spot} */ a, /** @type {Spot} */ b) => a.centre - b.centre);
    return systems;
  }

  /**
   * Shows changed notes of the route.
   * @param {RouteNote[]} changed
   */
  update(changed) {
    const systems = new Set();
    for (const note of changed) {
      this.notes[note.i] = note;
      this.write(note);
      // The path of the system before leads to its first note.
      for (const i of [note.i, note.i - 1]) systems.add(this.spots.get(i)?.system);
    }
    systems.delete(undefined);
    this.apart([...systems]);
    this.drawUnder(this.systemsOf([...this.spots.values()].filter(({ system }) => systems.has(system))));
  }

  /** @param {ShownNote} note */
  write(note) {
    const spot = this.spots.get(note.i);
    if (!spot) return;
    spot.group.classList.toggle("is-unplayable", !note.playable);
    const mark = spot.mark;
    if (!mark) return;
    if (mark.textContent !== note.mark) mark.textContent = note.mark ?? "";
    mark.classList.toggle("is-locked", Boolean(note.locked));
    mark.classList.toggle("is-unusual", Boolean(note.unusual));
    const chosen = this.kind === "new" ? note.new : note.unusual;
    const shown = this.kind === "all" || chosen || note.locked || !note.playable;
    mark.classList.toggle("is-away", !shown);
  }

  /** @param {string} kind which marks: all, unusual, new */
  show(kind) {
    this.kind = kind;
    for (const note of this.notes) this.write(note);
  }

  /**
   * Only the notes that `inside(note)` holds are in full ink.
   * @param {(note: ShownNote) => boolean} inside
   */
  limit(inside) {
    this.inside = inside;
    this.dim(this.spots.values());
    this.drawUnder();
  }

  /** @param {Iterable<Spot>} spots */
  dim(spots) {
    for (const spot of spots) {
      const out = !this.inside(this.notes[spot.i]);
      spot.mark?.classList.toggle("is-out", out);
      (spot.group.closest("g.measure") ?? spot.group).classList.toggle("is-out", out);
    }
  }

  /**
   * Moves the marks of each system apart where they would touch, as little as can be.
   * @param {Element[]} systems
   */
  apart(systems) {
    // All are measured before one is moved: to change and measure in turn lays out anew each time.
    const rows = systems.map((system) =>
      [...marksIn(system)]
        .map((mark) => ({
          mark,
          at: Number(mark.dataset.centre),
          half: mark.getComputedTextLength() / 2,
          size: parseFloat(mark.getAttribute("font-size") ?? ""),
          offset: 0,
        }))
        .sort((a, b) => a.at - b.at),
    );
    systems.forEach((system, k) => {
      spread(rows[k]);
      underline(system, rows[k]);
    });
  }

  /**
   * A bracket behind the note up to which the teacher has looked at all places.
   * @param {number | null} i
   */
  lookedTo(i) {
    this.seen = i;
    for (const old of this.el.querySelectorAll(".looked-to")) old.remove();
    const spot = i === null ? undefined : this.spots.get(i);
    if (!spot) return;
    const { hit, system, top, bottom } = spot;
    const right = Number(hit.getAttribute("x")) + Number(hit.getAttribute("width")) + 20;
    const path = document.createElementNS(NS, "path");
    path.setAttribute("class", "looked-to");
    path.setAttribute("d", `M ${right - 110} ${top - 90} H ${right} V ${bottom + 90} H ${right - 110}`);
    system.append(path);
  }

  /** @param {number | null} i */
  select(i) {
    this.selected = i;
    this.mark("is-on", i);
  }

  /** @param {number | null} i */
  cursor(i) {
    this.playing = i;
    this.mark("is-playing", i);
  }

  /**
   * @param {string} kind
   * @param {number | null} i
   */
  mark(kind, i) {
    for (const old of this.el.querySelectorAll(`.hit.${kind}`)) old.classList.remove(kind);
    if (i !== null) this.spots.get(i)?.hit.classList.add(kind);
  }

  /**
   * Scrolls a note into what is free between the bar above and the dock below.
   * @param {number} i
   */
  reveal(i, { top = 0, bottom = window.innerHeight } = {}) {
    const hit = this.spots.get(i)?.hit;
    // What isn't here yet is shown when it comes, unless another was wanted meanwhile.
    this.awaited = hit ? null : { i, room: { top, bottom } };
    if (!hit) return;
    const box = hit.getBoundingClientRect();
    const room = bottom - top;
    const aside = this.paper && beside(box, this.paper.getBoundingClientRect());
    if (!aside && box.top >= top + 8 && box.bottom <= bottom - 8) return;
    const by = box.top - top - Math.max(8, Math.min(60, (room - box.height) / 3));
    const behavior = calm.matches ? "instant" : "smooth";
    (this.paper ?? window).scrollBy({ top: by, left: aside || 0, behavior });
  }

  /**
   * The written note under a click: its column, its wedge or its ink, else the nearest close by.
   * @param {MouseEvent} event
   */
  at(event) {
    const hit = around(event, ".hit, .wedge");
    if (hit) return Number(hit.dataset.i);
    const group = around(event, "g.note");
    if (group) {
      // The second head of a tie, or another of a chord, stands for the note that has the mark.
      const found = this.notes.findLast((note) => ordinal(note.el) <= ordinal(group.id));
      if (found) return found.i;
    }
    /** @type {number | null} */
    let best = null;
    let least = NEAR_PX;
    for (const [i, spot] of this.spots) {
      const box = spot.hit.getBoundingClientRect();
      const x = Math.max(box.left - event.clientX, 0, event.clientX - box.right);
      const y = Math.max(box.top - event.clientY, 0, event.clientY - box.bottom);
      const away = Math.hypot(x, y);
      if (away < least) [best, least] = [i, away];
    }
    return best;
  }
}

/**
 * Says below what music there is why there isn't more.
 * @param {Element} el
 * @param {string} why
 */
export function noMusic(el, why) {
  const notice = document.createElement("p");
  notice.className = "notice bad";
  notice.textContent = why;
  for (const other of [...el.children]) if (!(other instanceof SVGSVGElement)) other.remove();
  el.append(notice);
}

/**
 * How far a box is to be moved sideways to be seen.
 * @param {DOMRect} box
 * @param {DOMRect} frame
 */
function beside(box, frame) {
  if (box.left < frame.left) return box.left - frame.left - 40;
  return Math.max(0, box.right - frame.right + 60);
}

/**
 * The notes of a system that have a number.
 * @param {Element} system
 * @param {Map<string, number>} numbers by the notes' elements
 * @returns {Spot[]}
 */
function spotsIn(system, numbers) {
  /** @type {Map<string | undefined, SVGTextElement>} */
  const marks = new Map();
  for (const mark of marksIn(system)) {
    mark.dataset.centre ??= mark.getAttribute("x") ?? "";
    marks.set(mark.dataset.note, mark);
  }
  const spots = [];
  /** @type {NodeListOf<SVGGElement>} */
  const groups = system.querySelectorAll("g.note");
  for (const group of groups) {
    const i = numbers.get(group.id);
    if (i === undefined) continue;
    const mark = marks.get(group.id) ?? null;
    /** @type {SVGGElement | null} */
    const head = group.querySelector(".notehead");
    const box = (head ?? group).getBBox();
    const over = mark ? Number(mark.getAttribute("y")) - 340 : box.y - 120;
    spots.push({
      i, group, system, mark,
      hit: document.createElementNS(NS, "rect"),
      centre: box.x + box.width / 2,
      top: Math.min(box.y, over) - 30,
      bottom: box.y + box.height + 70,
    });
  }
  return spots;
}

/**
 * Sets marks beside each other, each as near to its note as can be (pools of those that meet).
 * @param {Placed[]} marks from left to right
 */
function spread(marks) {
  let offset = 0;
  /** @type {{ start: number, members: number }[]} */
  const pools = [];
  marks.forEach((one, k) => {
    if (k > 0) {
      const before = marks[k - 1];
      offset += before.half + one.half + GAP_EM * Math.min(before.size, one.size);
    }
    one.offset = offset;
    let pool = { start: one.at - offset, members: 1 };
    for (let last = pools.at(-1); last && last.start > pool.start; last = pools.at(-1)) {
      pools.pop();
      const members = last.members + pool.members;
      pool = { start: (last.start * last.members + pool.start * pool.members) / members, members };
    }
    pools.push(pool);
  });
  let k = 0;
  for (const pool of pools) {
    for (let m = 0; m < pool.members; m++, k++) {
      marks[k].mark.setAttribute("x", String(Math.round(pool.start + marks[k].offset)));
    }
  }
}

/**
 * The marks of the row next to the notes.
 * @param {Element} el
 * @returns {NodeListOf<SVGTextElement>}
 */
function marksIn(el) {
  return el.querySelectorAll("text.mark:not(.second, .theirs)");
}

/**
 * A line under each locked mark: browsers scale an underline of their own wrongly here.
 * @param {Element} system
 * @param {Placed[]} marks
 */
function underline(system, marks) {
  for (const old of system.querySelectorAll(".lock-line")) old.remove();
  for (const { mark, half, size } of marks) {
    if (!mark.classList.contains("is-locked")) continue;
    const line = document.createElementNS(NS, "rect");
    line.setAttribute("class", "lock-line");
    line.setAttribute("x", String(Number(mark.getAttribute("x")) - half));
    line.setAttribute("y", String(Number(mark.getAttribute("y")) + 0.1 * size));
    line.setAttribute("width", String(2 * half));
    line.setAttribute("height", String(0.09 * size));
    mark.after(line);
  }
}

/** @param {string} id */
const ordinal = (id) => Number(id.replace("hs-n", ""));

/**
 * Transparent columns behind the ink, from the mark to the foot of the head, halfway to neighbours.
 * @param {Element} system
 * @param {Spot[]} spots
 */
function layHits(system, spots) {
  spots.sort((a, b) => a.centre - b.centre);
  spots.forEach((spot, k) => {
    const left = Math.max(spot.centre - HALF, k ? (spots[k - 1].centre + spot.centre) / 2 : -Infinity);
    const right = Math.min(spot.centre + HALF, k + 1 < spots.length ? (spots[k + 1].centre + spot.centre) / 2 : Infinity);
    const hit = spot.hit;
    hit.setAttribute("class", "hit");
    hit.dataset.i = String(spot.i);
    hit.setAttribute("x", String(left));
    hit.setAttribute("y", String(spot.top));
    hit.setAttribute("width", String(Math.max(40, right - left)));
    hit.setAttribute("height", String(spot.bottom - spot.top));
    hit.setAttribute("rx", "50");
  });
  system.prepend(...spots.map((spot) => spot.hit));
}
