// The engraved music in a page: its marks follow the route, its notes can be picked.
//
// Lengths inside are hundredths of a millimetre, as the engraving counts.

const NS = "http://www.w3.org/2000/svg";
const BREAKS = [[520, "narrow"], [800, "medium"], [Infinity, "wide"]];
const GAP_EM = 0.28; // least space between neighbouring marks
const HALF = 260; // most half width of the column that picks a note
const NEAR_PX = 30; // a tap beside all columns takes the nearest within this
const calm = window.matchMedia("(prefers-reduced-motion: reduce)");

export class Music {
  // `url` gives the music; `pick(i)` is called for a note that was clicked or tapped.
  constructor(el, url, pick = () => {}) {
    this.el = el;
    this.url = url;
    this.width = null;
    this.notes = [];
    this.spots = new Map(); // i -> {group, mark, hit, system, centre}
    this.selected = this.playing = null;
    this.kind = "all";
    this.inside = () => true;
    el.addEventListener("click", (event) => {
      const i = this.at(event);
      if (i !== null) pick(i);
    });
    let timer = 0;
    new ResizeObserver(() => {
      clearTimeout(timer);
      timer = setTimeout(() => this.width && this.wanted() !== this.width && this.load(), 250);
    }).observe(el);
  }

  wanted() {
    return BREAKS.find(([most]) => this.el.clientWidth < most)[1];
  }

  async load() {
    const width = this.wanted();
    this.el.classList.add("busy");
    this.el.setAttribute("aria-busy", "true");
    try {
      const sign = this.url.includes("?") ? "&" : "?";
      const answer = await fetch(`${this.url}${sign}width=${width}`, { headers: { Accept: "image/svg+xml, application/json" } });
      if (!answer.ok) throw new Error((await answer.json()).error);
      const parsed = new DOMParser().parseFromString(await answer.text(), "image/svg+xml");
      this.svg = document.importNode(parsed.documentElement, true);
      this.width = width;
      this.el.dataset.width = width;
      await document.fonts.load('700 16px "Handslide Marks"');
      this.el.replaceChildren(this.svg);
      this.find();
    } finally {
      this.el.classList.remove("busy");
      this.el.setAttribute("aria-busy", "false");
    }
  }

  // `notes` as in the JSON of the route.
  setNotes(notes) {
    this.notes = notes;
    if (this.svg) this.find();
  }

  find() {
    this.spots.clear();
    for (const old of this.svg.querySelectorAll(".hit")) old.remove();
    const marks = new Map();
    for (const mark of this.svg.querySelectorAll("text.mark:not(.second)")) {
      mark.dataset.centre ??= mark.getAttribute("x");
      marks.set(mark.dataset.note, mark);
    }
    const systems = new Map();
    for (const note of this.notes) {
      const group = this.svg.getElementById?.(note.el) ?? this.svg.querySelector(`#${note.el}`);
      if (!group) continue;
      const system = group.closest("g.system");
      const spot = { i: note.i, group, system, mark: marks.get(note.el) ?? null };
      const box = (group.querySelector(".notehead") ?? group).getBBox();
      spot.centre = box.x + box.width / 2;
      spot.top = Math.min(box.y, spot.mark ? Number(spot.mark.getAttribute("y")) - 340 : box.y - 120) - 30;
      spot.bottom = box.y + box.height + 70;
      this.spots.set(note.i, spot);
      if (!systems.has(system)) systems.set(system, []);
      systems.get(system).push(spot);
    }
    for (const [system, spots] of systems) layHits(system, spots);
    for (const note of this.notes) this.write(note);
    for (const system of systems.keys()) this.apart(system);
    this.dim();
    this.mark("is-on", this.selected);
    this.mark("is-playing", this.playing);
  }

  // Shows changed notes of the route.
  update(changed) {
    const systems = new Set();
    for (const note of changed) {
      this.notes[note.i] = note;
      this.write(note);
      const spot = this.spots.get(note.i);
      if (spot) systems.add(spot.system);
    }
    for (const system of systems) this.apart(system);
  }

  write(note) {
    const spot = this.spots.get(note.i);
    if (!spot) return;
    spot.group.classList.toggle("is-unplayable", !note.playable);
    const mark = spot.mark;
    if (!mark) return;
    if (mark.textContent !== note.mark) mark.textContent = note.mark;
    mark.classList.toggle("is-locked", note.locked);
    mark.classList.toggle("is-unusual", note.unusual);
    const shown = this.kind === "all" || note[this.kind] || note.locked;
    mark.classList.toggle("is-away", !shown);
  }

  show(kind) {
    this.kind = kind;
    for (const note of this.notes) this.write(note);
  }

  // Only the notes that `inside(note)` holds are in full ink.
  limit(inside) {
    this.inside = inside;
    if (this.svg) this.dim();
  }

  dim() {
    for (const note of this.notes) {
      const spot = this.spots.get(note.i);
      if (!spot) continue;
      const out = !this.inside(note);
      spot.mark?.classList.toggle("is-out", out);
      (spot.group.closest("g.measure") ?? spot.group).classList.toggle("is-out", out);
    }
  }

  // Moves the marks of a system apart where they would touch, as little as can be.
  apart(system) {
    const marks = [...system.querySelectorAll("text.mark:not(.second)")]
      .map((mark) => ({
        mark,
        at: Number(mark.dataset.centre),
        half: mark.getComputedTextLength() / 2,
        size: parseFloat(mark.getAttribute("font-size")),
      }))
      .sort((a, b) => a.at - b.at);
    let offset = 0;
    const pools = []; // {start, members}
    marks.forEach((one, k) => {
      if (k > 0) {
        const before = marks[k - 1];
        offset += before.half + one.half + GAP_EM * Math.min(before.size, one.size);
      }
      one.offset = offset;
      let pool = { start: one.at - offset, members: 1 };
      while (pools.length && pools.at(-1).start > pool.start) {
        const last = pools.pop();
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
    underline(system, marks);
  }

  select(i) {
    this.selected = i;
    this.mark("is-on", i);
  }

  cursor(i) {
    this.playing = i;
    this.mark("is-playing", i);
  }

  mark(kind, i) {
    for (const old of this.el.querySelectorAll(`.hit.${kind}`)) old.classList.remove(kind);
    if (i !== null) this.spots.get(i)?.hit.classList.add(kind);
  }

  // Scrolls a note into what is free between the bar above and the dock below.
  reveal(i, { top = 0, bottom = window.innerHeight } = {}) {
    const hit = this.spots.get(i)?.hit;
    if (!hit) return;
    const box = hit.getBoundingClientRect();
    const room = bottom - top;
    if (box.top >= top + 8 && box.bottom <= bottom - 8) return;
    const by = box.top - top - Math.max(8, Math.min(60, (room - box.height) / 3));
    window.scrollBy({ top: by, behavior: calm.matches ? "instant" : "smooth" });
  }

  // The written note under a click: its column or its ink, else the nearest close by.
  at(event) {
    const hit = event.target.closest?.(".hit");
    if (hit) return Number(hit.dataset.i);
    const group = event.target.closest?.("g.note");
    if (group) {
      // The second head of a tie, or another of a chord, stands for the note that has the mark.
      const found = this.notes.findLast((note) => ordinal(note.el) <= ordinal(group.id));
      if (found) return found.i;
    }
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

// A line under each locked mark: browsers scale an underline of their own wrongly here.
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

const ordinal = (id) => Number(id.replace("hs-n", ""));

// Transparent columns behind the ink, from the mark to the foot of the head, halfway to neighbours.
function layHits(system, spots) {
  spots.sort((a, b) => a.centre - b.centre);
  spots.forEach((spot, k) => {
    const left = Math.max(spot.centre - HALF, k ? (spots[k - 1].centre + spot.centre) / 2 : -Infinity);
    const right = Math.min(spot.centre + HALF, k + 1 < spots.length ? (spots[k + 1].centre + spot.centre) / 2 : Infinity);
    const hit = document.createElementNS(NS, "rect");
    hit.setAttribute("class", "hit");
    hit.dataset.i = spot.i;
    hit.setAttribute("x", String(left));
    hit.setAttribute("y", String(spot.top));
    hit.setAttribute("width", String(Math.max(40, right - left)));
    hit.setAttribute("height", String(spot.bottom - spot.top));
    hit.setAttribute("rx", "50");
    spot.hit = hit;
  });
  system.prepend(...spots.map((spot) => spot.hit));
}
