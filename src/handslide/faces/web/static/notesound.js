// A note of a recording, played by itself.

const BEFORE_S = 0.08;
const AFTER_S = 0.12;

export class NoteSound {
  /** @param {HTMLAudioElement} audio */
  constructor(audio) {
    this.audio = audio;
    /** @type {number | null} where the note that plays ends; null when the whole plays */
    this.until = null;
    this.ended = () => {};
    audio.addEventListener("pause", () => {
      if (this.until === null) return;
      this.until = null;
      this.ended();
    });
  }

  /**
   * Plays a note; one that wasn't heard has no times and no sound.
   * @param {number | null} startS
   * @param {number | null} endS
   * @returns {Promise<boolean>} whether it plays
   */
  async play(startS, endS) {
    if (startS === null || endS === null) return false;
    this.until = endS + AFTER_S;
    this.audio.currentTime = Math.max(startS - BEFORE_S, 0);
    try {
      await this.audio.play();
    } catch {
      this.until = null;
      return false;
    }
    requestAnimationFrame(() => this.watch());
    return true;
  }

  // timeupdate comes four times a second, too seldom for a short note.
  watch() {
    if (this.until === null || this.audio.paused) return;
    if (this.audio.currentTime >= this.until) this.audio.pause();
    else requestAnimationFrame(() => this.watch());
  }
}
