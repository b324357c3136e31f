// The report of a take: a click on a note, in the pictures or in the table, plays that note.

const BEFORE_S = 0.08;
const AFTER_S = 0.12;

const sound = document.getElementById("audio");
const rows = [...document.querySelectorAll("#take-notes tr[data-of]")];
const spots = new Map();
for (const spot of document.querySelectorAll(".take-pictures .spot")) spots.set(spot.dataset.of, spot);

let until = null; // where the note that plays ends; null when the whole take plays
let shown = null;

function show(row) {
  if (row === shown) return;
  for (const [one, on] of [[shown, false], [row, true]]) {
    if (!one) continue;
    one.classList.toggle("on", on);
    spots.get(one.dataset.of)?.classList.toggle("on", on);
  }
  shown = row;
}

function stop() {
  sound.pause();
  until = null;
  show(null);
}

async function play(row) {
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
  if (until === null || sound.paused) return;
  if (sound.currentTime >= until) stop();
  else requestAnimationFrame(watch);
}

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
