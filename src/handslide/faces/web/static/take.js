// The report of a take: a click on a note, in the pictures or in the table, plays that note.

const BEFORE_S = 0.08;
const AFTER_S = 0.12;

const sound = /** @type {HTMLAudioElement | null} */ (document.getElementById("audio"));
/** @type {NodeListOf<HTMLElement>} */
const found = document.querySelectorAll("#take-notes tr[data-of]");
const rows = [...found];
/** @type {NodeListOf<SVGElement>} */
const drawn = document.querySelectorAll(".take-pictures .spot");
const spots = new Map([...drawn].map((spot) => [spot.dataset.of, spot]));

/** @type {number | null} where the note that plays ends; null when the whole take plays */
let until = null;
/** @type {HTMLElement | null} */
let shown = null;

/** @param {HTMLElement | null} row */
function show(row) {
  if (row === shown) return;
  light(shown, false);
  light(row, true);
  shown = row;
}

/**
 * @param {HTMLElement | null} row
 * @param {boolean} on
 */
function light(row, on) {
  if (!row) return;
  row.classList.toggle("on", on);
  spots.get(row.dataset.of)?.classList.toggle("on", on);
}

function stop() {
  sound?.pause();
  until = null;
  show(null);
}

/** @param {HTMLElement} row */
async function play(row) {
  if (!sound) return;
  const start = Number(row.dataset.start);
  until = Number(row.dataset.end) + AFTER_S;
  sound.currentTime = Math.max(start - BEFORE_S, 0);
  show(row);
  try {
    await sound.play();
  } catch {
    show(null);
    return;
  }
  requestAnimationFrame(watch);
}

// timeupdate comes four times a second, too seldom for a short note.
function watch() {
  if (until === null || !sound || sound.paused) return;
  if (sound.currentTime >= until) stop();
  else requestAnimationFrame(watch);
}

/** @param {number} time */
function sounding(time) {
  return rows.find((row) => Number(row.dataset.start) <= time && time < Number(row.dataset.end));
}

if (sound) {
  for (const row of rows) {
    const button = row.querySelector("button");
    if (!button) continue;
    button.hidden = false;
    button.addEventListener("click", () => (row === shown && until !== null ? stop() : play(row)));
  }
  sound.addEventListener("timeupdate", () => {
    if (until === null && !sound.paused) show(sounding(sound.currentTime) ?? null);
  });
  sound.addEventListener("pause", () => {
    if (until !== null && sound.currentTime < until) until = null;
    show(null);
  });
}

for (const [of, spot] of spots) {
  spot.addEventListener("click", () => {
    const row = rows[Number(of)];
    if (sound && row.dataset.start) {
      play(row);
    } else {
      show(row);
      row.scrollIntoView({ block: "center" });
    }
  });
}
