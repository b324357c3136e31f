// Music with what was heard of each note: a sign round its head, and the millimetres to go below.
//
// Used where a take is made (stage.js), where it is looked at (take.js), and in hand-outs.

import { letters, reachDown, roomBelow } from "./inkroom.js";
import { Music } from "./music.js";
import { number } from "./words.js";

/** @type {[number, string][]} */
const BREAKS = [[560, "narrow"], [1050, "medium"], [Infinity, "wide"]];
const NS = "http://www.w3.org/2000/svg";
// Half sizes of the signs, in the engraving's hundredths of a millimetre.
const SHAPES = {
  hit: "M-190 0a190 190 0 1 0 380 0a190 190 0 1 0 -380 0z",
  in: "M-330 0 190 -260V260z",
  out: "M330 0 -190 -260V260z",
  gone: "M-180 -180H180V180H-180z",
  other: "M0 -270 270 0 0 270 -270 0z",
};

/**
 * How a written note was heard.
 * @typedef {{ i: number, sign: "hit" | "in" | "out" | "gone" | "other", mm: number | null }} HeardNote
 */

/**
 * Music of any kind, over which a take is shown.
 * @template {new (...args: any[]) => Music} T
 * @param {T} Base
 */
export const withHeard = (Base) =>
  class extends Base {
    /** @type {Map<number, HeardNote>} */
    heard = new Map();

    /** @param {SVGSVGElement[]} [svgs] */
    find(svgs) {
      super.find(svgs);
      this.drawAll([...this.heard.values()]);
    }

    /** @param {HeardMessage["passed"]} notes which replace what was told of the same notes before */
    tell(notes) {
      const told = [];
      for (const { i, sign, mm } of notes) {
        if (sign === "brief") {
          // Nothing is known of it until the take is heard whole: it stays as it is printed.
          this.heard.delete(i);
          this.wipe(i);
          continue;
        }
        const note = { i, sign, mm };
        this.heard.set(i, note);
        told.push(note);
      }
      this.drawAll(told);
    }

    /** @param {number} [from] only of notes from this one on */
    forget(from = 0) {
      for (const i of [...this.heard.keys()]) {
        if (i < from) continue;
        this.heard.delete(i);
        this.wipe(i);
      }
    }

    /** @param {number} i */
    wipe(i) {
      for (const old of this.el.querySelectorAll(`.heard[data-i="${i}"]`)) old.remove();
    }

    /** @param {HeardNote[]} notes */
    drawAll(notes) {
      const systems = new Set(notes.map((note) => this.draw(note)));
      for (const system of systems) if (system) this.figures(system);
    }

    /**
     * The sign round a note's head.
     * @param {HeardNote} note
     * @returns {SVGGraphicsElement | null} the system that it stands in
     */
    draw({ i, sign }) {
      this.wipe(i);
      const spot = this.spots.get(i);
      if (!spot) return null;
      const shape = piece("path", sign, i);
      shape.setAttribute("d", SHAPES[sign]);
      shape.setAttribute("transform", `translate(${spot.centre} ${middleOf(spot)})`);
      // Behind the ink, over the columns that are clicked.
      spot.hit.after(shape);
      reachDown(shape);
      return /** @type {SVGGraphicsElement} */ (spot.system);
    }

    /**
     * The millimetres below the notes of a system, each as high as there is room.
     * @param {SVGGraphicsElement} system
     */
    figures(system) {
      for (const old of system.querySelectorAll("text.heard")) old.remove();
      /** @type {NodeListOf<SVGGraphicsElement>} */
      const signs = system.querySelectorAll("path.heard");
      const taken = [...signs].map((sign) => {
        const { x, y, width, height } = sign.getBBox();
        const { e = 0, f = 0 } = sign.transform.baseVal.consolidate()?.matrix ?? {};
        return { x: x + e, y: y + f, width, height };
      });
      for (const spot of this.systemsOf(this.spots.values()).get(system) ?? []) {
        const { sign, mm } = this.heard.get(spot.i) ?? { mm: null };
        if (!sign || mm === null) continue;
        const text = /** @type {SVGTextElement} */ (piece("text", sign, spot.i));
        const { y, height } = spot.group.getBBox();
        text.setAttribute("x", String(spot.centre));
        text.setAttribute("y", String(Math.max(y + height, middleOf(spot) + 260) + 330));
        text.setAttribute("text-anchor", "middle");
        text.textContent = `${sign === "in" ? "◀" : "▶"}${number(mm)}`;
        system.append(text);
        const down = roomBelow(system, letters(text), taken);
        if (down === null) {
          // Its wedge says the way; how far is said when it is looked at.
          text.remove();
          continue;
        }
        text.setAttribute("y", String(Number(text.getAttribute("y")) + down));
        taken.push(letters(text));
        reachDown(text);
      }
    }
  };

// In a studio.
export class HeardMusic extends withHeard(Music) {
  // Read from afar: wider engravings only from wider windows on.
  plan() {
    return { width: BREAKS.find(([most]) => this.el.clientWidth < most)?.[1] ?? "wide", px: null };
  }
}

/** @param {import("./music.js").Spot} spot */
function middleOf({ group }) {
  /** @type {SVGGraphicsElement} */
  const head = group.querySelector(".notehead") ?? group;
  const { y, height } = head.getBBox();
  return y + height / 2;
}

/**
 * @param {"path" | "text"} kind
 * @param {string} sign
 * @param {number} i
 */
function piece(kind, sign, i) {
  const made = document.createElementNS(NS, kind);
  made.setAttribute("class", `heard heard-${sign}`);
  made.dataset.i = String(i);
  return made;
}
