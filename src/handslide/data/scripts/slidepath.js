// What is drawn under a staff: the path that the slide travels over time, and the last take's wedges.
//
// Out is down, the thin line is the closed stop. Lengths are those of the engraving, in hundredths of
// a millimetre; `data-ink` of a system says from where to where its own ink reaches.

const NS = "http://www.w3.org/2000/svg";
const BELOW = 150; // from the ink, or from the staff, to the line of the closed stop
const STAFF = 320;
const DEEP = 340; // the slide all the way out
const CLEAR = 170; // from there to the ink below
const EDGE = 200; // what two pieces of the music leave free between them, at least
const HEAD = 90; // half a note's head: the slide is there when the note begins
const STAY = 0.62; // of the way to the next note, where nothing is known of its time

/**
 * @typedef {import("./music.js").Spot} Spot
 * @typedef {import("./music.js").ShownNote} ShownNote
 * @typedef {{ travel_mm: number, stays: Map<number, number> }} PathOf
 */

/**
 * For each written note, which part of the way to the next the slide stays there.
 * @param {PlayedRow[]} played
 */
export function staysOf(played) {
  /** @type {Map<number, number>} */
  const stays = new Map();
  played.slice(1).forEach(({ i, on_s, move_s }, k) => {
    const before = played[k];
    const time = on_s - before.on_s;
    if (i !== before.i + 1 || move_s === null || time <= 0 || stays.has(before.i)) return;
    stays.set(before.i, 1 - Math.min(1, move_s / time));
  });
  return stays;
}

/**
 * Makes room for a path under each system of a piece, or takes it back.
 * @param {SVGSVGElement} svg
 * @param {boolean} on
 */
export function makeRoom(svg, on) {
  svg.dataset.box ??= svg.getAttribute("viewBox") ?? "";
  const [left, top, width, height] = svg.dataset.box.split(" ").map(Number);
  let shift = 0;
  const inks = [...svg.querySelectorAll("g.system")].map((system) => ({ system, ...inkOf(system) }));
  inks.forEach(({ system, down, foot }, k) => {
    if (shift) system.setAttribute("transform", `translate(0, ${shift})`);
    else system.removeAttribute("transform");
    const next = k + 1 < inks.length ? inks[k + 1].down + inks[k + 1].head : top + height + EDGE;
    if (on) shift += Math.max(0, Math.ceil(down + foot + DEEP + CLEAR - next));
  });
  svg.setAttribute("viewBox", `${left} ${top} ${width} ${height + shift}`);
}

/**
 * Where a system's ink begins, where the line of its path is, and how far all of it is moved down.
 * @param {Element} system
 */
function inkOf(system) {
  const [head, end] = (system.getAttribute("data-ink") ?? "0 0").split(" ").map(Number);
  const moved = /translate\(0, (-?[\d.]+)\)/.exec(system.parentElement?.getAttribute("transform") ?? "");
  const { foot } = staffOf(system);
  return { head, foot: Math.max(end + BELOW, foot + STAFF), down: moved ? Number(moved[1]) : 0 };
}

/**
 * From where to where the lines of a system's staff go, and how far down.
 * @param {Element} system
 */
function staffOf(system) {
  const lines = [...system.querySelectorAll("g.staff > path")]
    .map((line) => (line.getAttribute("d") ?? "").match(/-?[\d.]+/g)?.map(Number) ?? [])
    .filter((line) => line.length === 4 && line[1] === line[3]);
  return {
    left: Math.min(...lines.map((line) => line[0])),
    right: Math.max(...lines.map((line) => line[2])),
    foot: Math.max(...lines.map((line) => line[1])),
  };
}

/**
 * Draws anew what stands under a system.
 * @param {Element} system
 * @param {Spot[]} spots from left to right
 * @param {ShownNote[]} notes
 * @param {{ path: PathOf | null, off: Map<number, number>, inside: (note: ShownNote) => boolean }} what
 */
export function drawUnder(system, spots, notes, { path, off, inside }) {
  system.querySelector("g.under")?.remove();
  const group = document.createElementNS(NS, "g");
  group.setAttribute("class", "under");
  const staff = staffOf(system);
  const { foot } = inkOf(system);
  if (path) {
    /** @param {number} i */
    const at = (i) => depth(notes[i], foot, path.travel_mm);
    const lines = linesOf(spots, notes, staff.right, at, path.stays, inside);
    group.append(drawn("path-closed", `M${staff.left} ${foot}H${staff.right}`));
    // First the dark edge of each, then its brass.
    for (const part of ["edge", "brass"]) {
      for (const [kind, line] of Object.entries(lines)) {
        if (line) group.append(drawn(`${kind} ${part}`, line));
      }
    }
    for (const { i, centre } of spots) {
      const y = at(i);
      if (off.has(i) && y !== null) group.append(wedge(i, centre, y, off));
    }
  } else {
    const found = spots.filter(({ i }) => off.has(i));
    const heights = found.length ? beside(system, found, staff.foot) : [];
    found.forEach(({ i, centre }, k) => group.append(wedge(i, centre, heights[k], off)));
  }
  if (group.firstChild) system.append(group);
}

/**
 * @param {ShownNote | undefined} note
 * @param {number} foot
 * @param {number} travel_mm
 */
function depth(note, foot, travel_mm) {
  if (!note?.playable || note.extension_mm == null) return null;
  return Math.round(foot + (DEEP * Math.max(0, note.extension_mm)) / travel_mm);
}

/**
 * The path through the notes of a system, on to the first of the next; what is outside of the chosen
 * measures by itself.
 * @param {Spot[]} spots
 * @param {ShownNote[]} notes
 * @param {number} right
 * @param {(i: number) => number | null} at
 * @param {Map<number, number>} stays
 * @param {(note: ShownNote) => boolean} inside
 */
function linesOf(spots, notes, right, at, stays, inside) {
  const lines = { "slide-path": "", "slide-path is-out": "" };
  spots.forEach(({ i, centre }, k) => {
    const y = at(i);
    if (y === null) return;
    const next = spots[k + 1];
    const from = centre - HEAD;
    const to = next ? next.centre - HEAD : right;
    const then = at(next ? next.i : i + 1);
    const stay = then === null ? 1 : stays.get(i) ?? STAY;
    const turn = Math.round(from + stay * (to - from));
    const middle = Math.round((turn + to) / 2);
    const kind = inside(notes[i]) ? "slide-path" : "slide-path is-out";
    lines[kind] += `M${Math.round(from)} ${y}H${turn}`;
    if (then !== null) lines[kind] += `C${middle} ${y} ${middle} ${then} ${Math.round(to)} ${then}`;
  });
  return lines;
}

/**
 * Where wedges stand without a path: under the notes, clear of what is there.
 * @param {Element} system
 * @param {Spot[]} found
 * @param {number} foot
 */
function beside(system, found, foot) {
  const boxes = found.map(({ group }) => group.getBBox());
  /** @type {NodeListOf<SVGGraphicsElement>} */
  const signs = system.querySelectorAll("g.dynam, g.hairpin, g.verse");
  const taken = [...signs].map((sign) => sign.getBBox());
  return found.map(({ centre }, k) => {
    let y = Math.max(foot, boxes[k].y + boxes[k].height) + 150;
    // Dynamics and words that stand there stay readable.
    for (const box of taken) {
      const meets = Math.abs(box.x + box.width / 2 - centre) < box.width / 2 + 110;
      if (meets && box.y < y + 110 && box.y + box.height > y - 110) y = box.y + box.height + 130;
    }
    return y;
  });
}

/**
 * The way that the slide should go.
 * @param {number} i
 * @param {number} x
 * @param {number} y
 * @param {Map<number, number>} off mm too far out
 */
function wedge(i, x, y, off) {
  const way = (off.get(i) ?? 0) > 0 ? 1 : -1;
  const path = drawn("wedge", `M${x - 90 * way} ${y}l${180 * way} -95v190z`);
  path.dataset.i = String(i);
  return path;
}

/**
 * @param {string} kind
 * @param {string} d
 */
function drawn(kind, d) {
  const path = document.createElementNS(NS, "path");
  path.setAttribute("class", kind);
  path.setAttribute("d", d);
  return path;
}
