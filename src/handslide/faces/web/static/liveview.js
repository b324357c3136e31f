// The live view's way to the server: blocks of sound go out, what is heard in them comes in.

const AGAIN_MS = [1000, 2000, 5000]; // waits before the live view is asked for again
const MOST_WAITING = 400_000; // bytes
const REFUSED = 4400;

/**
 * What a live view begins with.
 * @typedef {{
 *   rate_hz: number, student: number, stand: number | null, aim: number | null,
 *   from?: number,
 * }} LiveStart
 * And one that listens for a note, at /one-note.
 * @typedef {{
 *   rate_hz: number, student: number, a4_hz: number, hz: number, within_cents?: number,
 * }} NoteStart
 * @typedef {{ state: "open" | "lost" | "over", said: string }} LiveState
 */

// The way to the server. Events: "heard" (detail: what the server said), "state" (detail: LiveState).
/** @template {object} Start */
export class Way extends EventTarget {
  /**
   * @param {string} path
   * @param {Start} start
   */
  constructor(path, start) {
    super();
    this.path = path;
    this.start = start;
    this.tries = 0;
    this.ended = false;
    this.timer = 0;
    this.socket = this.connect();
  }

  connect() {
    const scheme = location.protocol === "https:" ? "wss" : "ws";
    const socket = new WebSocket(`${scheme}://${location.host}${this.path}`);
    socket.binaryType = "arraybuffer";
    let said = "";
    socket.addEventListener("open", () => {
      for (const said of this.first()) socket.send(JSON.stringify(said));
      this.tell("open");
    });
    socket.addEventListener("message", ({ data }) => {
      const message = JSON.parse(data);
      if (message.error) said = message.error.text;
      else {
        this.tries = 0;
        this.dispatchEvent(new CustomEvent("heard", { detail: message }));
      }
    });
    socket.addEventListener("close", ({ code }) => {
      if (this.ended) return;
      const again = code !== REFUSED && this.tries < AGAIN_MS.length;
      this.tell(again ? "lost" : "over", said);
      if (again) this.timer = setTimeout(() => this.reconnect(), AGAIN_MS[this.tries++]);
    });
    return socket;
  }

  /**
   * What is said first, whenever the way is open.
   * @returns {object[]}
   */
  first() {
    return [this.start];
  }

  /** @param {object} wish */
  ask(wish) {
    if (this.open) this.socket.send(JSON.stringify(wish));
  }

  reconnect() {
    this.socket = this.connect();
  }

  /** @param {LiveState["state"]} state */
  tell(state, said = "") {
    this.dispatchEvent(new CustomEvent("state", { detail: { state, said } }));
  }

  get open() {
    return this.socket.readyState === WebSocket.OPEN;
  }

  /**
   * @param {ArrayBuffer} block
   * @returns {boolean} whether it was sent: when the server lags far behind, it is left out
   */
  send(block) {
    if (!this.open || this.socket.bufferedAmount >= MOST_WAITING) return false;
    this.socket.send(block);
    return true;
  }

  end() {
    this.ended = true;
    clearTimeout(this.timer);
    this.socket.close();
  }
}

// The live view of where the slide is; "heard" has a HeardMessage.
/** @extends {Way<LiveStart>} */
export class LiveSocket extends Way {
  /** @param {LiveStart} start */
  constructor(start) {
    super("/live", start);
  }

  first() {
    const { from, ...start } = this.start;
    return from === undefined ? [start] : [start, { from }];
  }

  /** @param {number | null} midi */
  aim(midi) {
    this.start.aim = midi;
    this.ask({ aim: midi });
  }

  /** @param {number} i the written note that playing begins with */
  from(i) {
    this.start.from = i;
    this.ask({ from: i });
  }
}

/**
 * The detail of an event of a Way.
 * @template T
 * @param {Event} event
 * @returns {T}
 */
export function detailOf(event) {
  return /** @type {CustomEvent<T>} */ (event).detail;
}
