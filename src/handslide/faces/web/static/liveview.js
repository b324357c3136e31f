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
 * @typedef {{ state: "open" | "lost" | "over", said: string }} LiveState
 */

// The way to the server. Events: "heard" (detail: HeardMessage), "state" (detail: LiveState).
export class LiveSocket extends EventTarget {
  /** @param {LiveStart} start */
  constructor(start) {
    super();
    this.start = start;
    this.tries = 0;
    this.ended = false;
    this.timer = 0;
    this.socket = this.connect();
  }

  connect() {
    const scheme = location.protocol === "https:" ? "wss" : "ws";
    const socket = new WebSocket(`${scheme}://${location.host}/live`);
    socket.binaryType = "arraybuffer";
    let said = "";
    socket.addEventListener("open", () => {
      const { from, ...start } = this.start;
      socket.send(JSON.stringify(start));
      if (from !== undefined) socket.send(JSON.stringify({ from }));
      this.tell("open");
    });
    socket.addEventListener("message", ({ data }) => {
      /** @type {HeardMessage} */
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

  /** @param {number | null} midi */
  aim(midi) {
    this.start.aim = midi;
    if (this.open) this.socket.send(JSON.stringify({ aim: midi }));
  }

  /** @param {number} i the written note that playing begins with */
  from(i) {
    this.start.from = i;
    if (this.open) this.socket.send(JSON.stringify({ from: i }));
  }

  end() {
    this.ended = true;
    clearTimeout(this.timer);
    this.socket.close();
  }
}

/**
 * The detail of an event of a LiveSocket.
 * @template T
 * @param {Event} event
 * @returns {T}
 */
export function detailOf(event) {
  return /** @type {CustomEvent<T>} */ (event).detail;
}
