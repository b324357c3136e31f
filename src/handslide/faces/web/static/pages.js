// Music that is turned like pages: as many whole systems as there is room for.

const ROOM_PX = 12; // above the first system

/**
 * Shows of the music as many whole systems as the room holds, from one on.
 */
export class Pages {
  /**
   * @param {Element} room clips the music
   * @param {import("./heard.js").HeardMusic} music
   */
  constructor(room, music) {
    this.room = room;
    this.music = music;
    /** @type {number | null} */
    this.i = null;
    /** @type {Element | null} */
    this.first = null;
    new ResizeObserver(() => this.turn()).observe(music.el);
    new ResizeObserver(() => this.turn()).observe(room);
  }

  /**
   * The systems of the music with their upper and lower ends, in pixels from its top.
   * @returns {{ system: Element, top: number, bottom: number }[]}
   */
  systems() {
    const zero = this.music.el.getBoundingClientRect().top;
    const found = [...this.music.el.querySelectorAll("g.system")].map((system) => {
      const { top, bottom } = system.getBoundingClientRect();
      return { system, top: Math.max(0, top - zero), bottom: bottom - zero };
    });
    return found.map((one, k) => ({
      ...one,
      // Columns and slurs of neighbours may reach into each other by a little.
      bottom: k + 1 < found.length ? Math.min(one.bottom, found[k + 1].top + 4) : one.bottom,
    }));
  }

  /**
   * The note that is to be seen, and the one after it: a new system comes before it is needed.
   * @param {number | null} i
   * @param {number | null} [next]
   */
  show(i, next = null) {
    this.i = i;
    const here = i === null ? null : (this.music.spots.get(i)?.system ?? null);
    const coming = next === null ? null : (this.music.spots.get(next)?.system ?? null);
    const target = coming && coming !== here && coming !== this.first ? this.enough(coming) : here;
    if (target && target !== this.first) this.turn(target);
  }

  /**
   * What stands on top once `coming` is needed: it, or the present one where both are seen.
   * @param {Element} coming
   */
  enough(coming) {
    return coming.classList.contains("is-beyond") ? coming : this.first;
  }

  /** @param {Element | null} [first] stands on top from now on */
  turn(first = this.first) {
    const rows = this.systems();
    if (!rows.length) return;
    const k = Math.max(0, rows.findIndex(({ system }) => system === first));
    this.first = rows[k].system;
    const top = rows[k].top;
    this.music.el.style.translate = `0 ${(-top).toFixed(1)}px`;
    const room = this.room.clientHeight - ROOM_PX;
    rows.forEach(({ system, bottom }, n) => {
      system.classList.toggle("is-beyond", n < k || (n > k && bottom - top > room));
    });
  }
}
