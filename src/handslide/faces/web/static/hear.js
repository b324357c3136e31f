// A recording or a play-along in the page's own hand: a key, where it is, how long it is. The audio
// element does the work; without scripts the browser's own controls stay.

const STEP_S = 2;
const SVG = "http://www.w3.org/2000/svg";

/** @param {number} seconds */
function clock(seconds) {
  const whole = Number.isFinite(seconds) ? Math.max(0, Math.floor(seconds)) : 0;
  return `${Math.floor(whole / 60)}:${String(whole % 60).padStart(2, "0")}`;
}

/**
 * @param {string} name of its class
 * @param {string} d
 */
function shape(name, d) {
  const path = document.createElementNS(SVG, "path");
  path.setAttribute("class", name);
  path.setAttribute("d", d);
  return path;
}

/** @param {HTMLElement} box */
function dress(box) {
  const audio = box.querySelector("audio");
  if (!audio || box.dataset.ready) return;
  box.dataset.ready = "yes";
  audio.controls = false;

  const key = document.createElement("button");
  key.type = "button";
  key.className = "button hear-key";
  const drawing = document.createElementNS(SVG, "svg");
  drawing.setAttribute("viewBox", "0 0 24 24");
  drawing.setAttribute("class", "full");
  drawing.setAttribute("aria-hidden", "true");
  drawing.append(shape("go", "M6 3.5v17l14-8.5z"), shape("halt", "M6 4h4v16H6zM14 4h4v16h-4z"));
  key.append(drawing);

  const range = document.createElement("input");
  Object.assign(range, { type: "range", min: "0", max: "0", step: "0.1", value: "0", autocomplete: "off" });
  range.setAttribute("aria-label", box.dataset.where ?? "");
  const time = document.createElement("span");
  time.className = "hear-time";
  time.setAttribute("aria-hidden", "true");
  box.append(key, range, time);

  const show = () => {
    const on = !audio.paused;
    box.dataset.state = on ? "on" : "off";
    key.setAttribute("aria-label", (on ? box.dataset.stop : box.dataset.play) ?? "");
    key.classList.toggle("busy", on && audio.readyState < HTMLMediaElement.HAVE_FUTURE_DATA && !audio.ended);
    const known = Number.isFinite(audio.duration);
    const whole = known ? audio.duration : 0;
    range.max = String(whole);
    range.value = String(audio.currentTime);
    range.disabled = !known;
    box.style.setProperty("--share", String(whole ? audio.currentTime / whole : 0));
    const said = known ? `${clock(audio.currentTime)} / ${clock(whole)}` : clock(audio.currentTime);
    if (time.textContent === said) return;
    time.textContent = said;
    range.setAttribute("aria-valuetext", said);
  };
  /** @param {number} to */
  const seek = (to) => {
    audio.currentTime = Math.max(0, Math.min(to, audio.duration || 0));
    show();
  };
  key.addEventListener("click", () => {
    if (audio.paused) audio.play().catch(show);
    else audio.pause();
  });
  range.addEventListener("input", () => seek(Number(range.value)));
  range.addEventListener("keydown", (event) => {
    const way = { ArrowRight: 1, ArrowUp: 1, ArrowLeft: -1, ArrowDown: -1 }[event.key];
    if (!way) return;
    event.preventDefault();
    seek(audio.currentTime + way * STEP_S);
  });
  const told = ["play", "playing", "pause", "ended", "waiting", "timeupdate", "seeked", "durationchange", "emptied", "error"];
  for (const each of told) audio.addEventListener(each, show);
  show();
}

/** @param {ParentNode} root */
function dressAll(root) {
  /** @type {NodeListOf<HTMLElement>} */
  const boxes = root.querySelectorAll(".hear");
  boxes.forEach(dress);
}

dressAll(document);
document.addEventListener("htmx:afterSwap", (event) => {
  if (event.target instanceof Element) dressAll(event.target);
});
