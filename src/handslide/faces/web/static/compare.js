// The page that compares: music with two rows of marks, frames where they differ, jumps to notes.

import { piecesAt } from "./engraved.js";
import { Music, noMusic } from "./music.js";
import { texts as textsOf } from "./page.js";
import { fill } from "./words.js";

const NS = "http://www.w3.org/2000/svg";
const score = document.getElementById("score");

/** @returns {NodeListOf<HTMLButtonElement>} */
const jumpsOf = () => document.querySelectorAll("button[data-el]");

/**
 * Two schools may write one place with two signs (T1, F·1): only the places count.
 * @param {SVGSVGElement} svg
 */
function frames(svg) {
  const differ = new Set([...jumpsOf()].map((one) => one.dataset.el));
  /** @type {Map<string | undefined, SVGTextElement[]>} */
  const rows = new Map();
  /** @type {NodeListOf<SVGTextElement>} */
  const marks = svg.querySelectorAll("text.mark");
  for (const mark of marks) {
    const note = mark.dataset.note;
    if (differ.has(note)) rows.set(note, [...(rows.get(note) ?? []), mark]);
  }
  for (const pair of rows.values()) frame(pair);
}

/** @param {SVGTextElement[]} marks */
function frame(marks) {
  const boxes = marks.map((one) => one.getBBox());
  const left = Math.min(...boxes.map((box) => box.x)) - 25;
  const right = Math.max(...boxes.map((box) => box.x + box.width)) + 25;
  const tops = boxes.map((box) => box.y + 0.12 * box.height);
  const feet = boxes.map((box) => box.y + 0.86 * box.height);
  const rect = document.createElementNS(NS, "rect");
  rect.setAttribute("class", "differs");
  rect.setAttribute("x", String(left));
  rect.setAttribute("y", String(Math.min(...tops)));
  rect.setAttribute("width", String(right - left));
  rect.setAttribute("height", String(Math.max(...feet) - Math.min(...tops)));
  rect.setAttribute("rx", "60");
  marks[0].parentNode?.appendChild(rect);
}

class Pair extends Music {
  find(svgs = this.svgs) {
    super.find(svgs);
    for (const svg of svgs) {
      for (const old of svg.querySelectorAll(".differs")) old.remove();
      frames(svg);
    }
  }
}

if (score) {
  const music = new Pair(score, piecesAt(score.dataset.music ?? ""));
  const jumps = [...jumpsOf()];
  /** @type {HTMLElement | null} */
  const pane = score.closest(".two-music");
  music.notes = jumps.map((button, i) => ({ i, el: button.dataset.el ?? "" }));
  music.write = () => {};
  music.apart = () => {};
  /** @param {Error} error */
  const broken = (error) => noMusic(score, fill(textsOf().no_music, { why: error.message }));
  music.broken = broken;
  music.load().catch(broken);
  jumps.forEach((button, i) =>
    button.addEventListener("click", () => {
      music.select(i);
      // Beside the lists the music scrolls by itself, on small windows with the page.
      music.paper = pane && getComputedStyle(pane).overflowY === "auto" ? pane : null;
      const box = music.paper?.getBoundingClientRect();
      music.reveal(i, box);
    }),
  );
}
