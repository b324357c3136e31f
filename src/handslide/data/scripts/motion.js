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
