// Engraved music that a page has in it, as lines below each other or as one long line that goes by.

import { Music } from "./music.js";
import { drawingsIn } from "./packed.js";

const SHOWN = "wide"; // the engraving that stands in the page unpacked
const OWN = "own-"; // before the width of one without the part below
const NOW = 0.3; // where in the window the long line has what sounds
const ABOVE = 0.3; // the most of the free window that a title may take of the long line's height
const LEAST_PX = 170;
const MOST_PX = 340;
const AHEAD = 6000; // the least of the long line that is in sight at once

/** @typedef {"lines" | "line"} Layout */

export class BlockMusic extends Music {
  /**
   * @param {HTMLElement} el
   * @param {HTMLElement} block has the engravings
   * @param {(i: number) => void} pick
   */
  constructor(el, block, pick) {
    super(el, (width) => this.from(width), pick, { printed: false });
    this.block = block;
    /** @type {Layout} */
    this.layout = "lines";
    this.alone = false; // whether of two parts the student's own is shown by itself
    /** @type {Map<string, SVGSVGElement[]>} */
    this.unpacked = new Map();
    /** @type {Map<number, number>} where notes stand in the long line, px from its beginning */
    this.across = new Map();
  }

  /** @param {string} width */
  async *from(width) {
    const wanted = this.alone ? OWN + width : width;
    for (const svg of (await this.drawings(wanted)) ?? (await this.drawings(SHOWN)) ?? []) {
      yield /** @type {SVGSVGElement} */ (svg.cloneNode(true));
    }
  }

  /** @param {string} width */
  async drawings(width) {
    if (!this.unpacked.has(width)) {
      /** @type {NodeListOf<SVGSVGElement>} */
      const shown = this.block.querySelectorAll(".sheet > svg");
      const found = width === SHOWN ? [...shown] : await drawingsIn(this.block, width);
      if (!found) return null;
      this.unpacked.set(width, found);
    }
    return this.unpacked.get(width) ?? null;
  }

  plan() {
    return this.layout === "line" ? { width: "line", px: null } : super.plan();
  }

  /**
   * @param {Layout} layout
   * @param {boolean} [alone]
   */
  async show_as(layout, alone = this.alone) {
    if (layout === this.layout && alone === this.alone && this.width) return;
    this.layout = layout;
    this.alone = alone;
    this.el.dataset.layout = layout;
    this.el.style.removeProperty("height");
    this.across.clear();
    await this.load();
  }

  /** @param {SVGSVGElement} svg */
  add(svg) {
    super.add(svg);
    this.scale();
  }

  fit() {
    super.fit();
    this.scale();
  }

  // The pieces of the long line are as large as each other, and as the window leaves room for.
  scale() {
    if (this.layout !== "line" || !this.svgs.length) return;
    const boxes = this.svgs.map((svg) => svg.viewBox.baseVal);
    const high = Math.max(...boxes.map(({ height }) => height));
    const { bottom = window.innerHeight } = this.free();
    const above = Math.min(ABOVE * bottom, this.el.getBoundingClientRect().top + window.scrollY);
    const room = Math.min(MOST_PX, Math.max(Math.min(LEAST_PX, bottom - 16), bottom - above - 24));
    const near = (this.zoom * this.el.clientWidth) / AHEAD;
    const scale = Math.min(room / high, MOST_PX / 2600, near);
    this.svgs.forEach((svg, k) => {
      svg.style.width = `${(boxes[k].width * scale).toFixed(1)}px`;
      svg.style.height = `${(boxes[k].height * scale).toFixed(1)}px`;
    });
    this.across.clear();
  }

  /** @param {number} i */
  acrossOf(i) {
    const known = this.across.get(i);
    if (known !== undefined) return known;
    const spot = this.spots.get(i);
    const svg = spot?.group.ownerSVGElement;
    if (!spot || !svg) return null;
    const box = svg.getBoundingClientRect();
    const from = box.left - this.el.getBoundingClientRect().left + this.el.scrollLeft;
    const { x, width } = svg.viewBox.baseVal;
    const found = from + ((spot.centre - x) * box.width) / width;
    this.across.set(i, found);
    return found;
  }

  /**
   * The long line stands where so much of the way from one note to the next is over.
   * @param {number} i
   * @param {number | null} next
   * @param {number} share
   */
  goBy(i, next, share) {
    const from = this.acrossOf(i);
    if (from === null) return;
    const to = next === null ? null : this.acrossOf(next);
    // Where the music goes back, it jumps.
    const way = to === null || to < from ? 0 : to - from;
    this.el.scrollLeft = from + share * way - NOW * this.el.clientWidth;
  }

  /**
   * @param {number} i
   * @param {{ top?: number, bottom?: number }} [room]
   */
  reveal(i, room) {
    if (this.layout !== "line") {
      super.reveal(i, room);
      return;
    }
    const at = this.acrossOf(i);
    if (at === null) return;
    const { scrollLeft, clientWidth } = this.el;
    this.intoSight();
    if (at > scrollLeft + 40 && at < scrollLeft + clientWidth - 60) return;
    this.el.scrollTo({ left: at - NOW * clientWidth, behavior: "instant" });
  }

  // The long line as a whole, between the upper edge of the window and the dock.
  intoSight() {
    const { top, bottom } = this.el.getBoundingClientRect();
    const free = this.free().bottom ?? window.innerHeight;
    if (top < 0 || bottom > free) window.scrollBy({ top: Math.min(top, bottom - free), behavior: "instant" });
  }
}
