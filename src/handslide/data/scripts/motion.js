// How the slide moves: minimum-jerk moves in the time that the notes leave. Python's
// handslide.instrument.slidemotion has the same rules; a test compares both.

const GLIDE = 0.7; // share of its length in which a glissando moves
const USUAL_MOVE_S = 0.25; // for a move that the route says nothing of
const TOUCHING_S = 0.03; // notes with less between them are not parted by a rest

/**
 * Share of the way at share `t` of the time, for a move with the least jerk (Flash and Hogan,
 * J. Neurosci. 5 (1985) 1688-1703).
 * @param {number} t
 */
export const jerkless = (t) => t * t * t * (10 + t * (6 * t - 15));

/** @type {(row: PlayedRow | undefined) => number} */
export const endOf = (row) => (row ? row.on_s + row.len_s : 0);

/** @type {(row: PlayedRow, behind: PlayedRow) => boolean} */
export const touches = (row, behind) => behind.on_s - endOf(row) < TOUCHING_S;

/**
 * Where the slide is at any second of a line.
 */
export class Motion {
  /**
   * @param {PlayedRow[]} rows
   * @param {(i: number) => number | null} placeOf mm of a written note; null: it can't be played
   * @param {number | null} again when the first note comes again, in a loop
   */
  constructor(rows, placeOf, again = null) {
    const places = rows.map(({ i }) => placeOf(i));
    /** @type {number} where the slide is: at the start that of the first note that has a place */
    let here = places.find((mm) => mm !== null) ?? 0;
    this.first = here;
    /** @type {{ begin: number, end: number, from: number, to: number }[]} */
    this.moves = [];
    const line = again === null || !rows.length ? rows : [...rows, { ...rows[0], on_s: again }];
    line.slice(1).forEach((behind, k) => {
      const to = places[(k + 1) % rows.length] ?? here;
      const begin = behind.on_s - moveTime(rows[k], behind);
      this.moves.push({ begin, end: behind.on_s, from: here, to });
      here = to;
    });
  }

  /**
   * How far the slide is out, in mm.
   * @param {number} second
   */
  at(second) {
    const move = this.moves.findLast(({ begin }) => begin <= second);
    return move ? placeWithin(move, second) : this.first;
  }
}

/**
 * How far the slide is out in a move that has begun, and behind it; in mm.
 * @param {{ begin: number, end: number, from: number, to: number }} move
 * @param {number} second
 */
export function placeWithin({ begin, end, from, to }, second) {
  const share = Math.min(1, (second - begin) / Math.max(1e-9, end - begin));
  return from + jerkless(share) * (to - from);
}

/**
 * For how long a note that glides to the one behind it does so.
 * @param {number} length
 */
export const glideTime = (length) => GLIDE * length;

/**
 * How long the slide moves from a note to the one behind it, which begins at `arrive`; in seconds
 * of the score.
 * @param {PlayedRow} row
 * @param {PlayedRow} behind
 * @param {number} arrive another time than its own: where a loop begins again
 */
export function moveTime(row, behind, arrive = behind.on_s) {
  const most = arrive - row.on_s;
  const glides = row.gliss && arrive === behind.on_s && touches(row, behind);
  return glides ? glideTime(most) : Math.min(most, behind.move_s ?? USUAL_MOVE_S);
}
