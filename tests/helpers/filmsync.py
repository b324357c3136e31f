"""Whether picture and sound of what a browser records are one, looked up in its file.

The studio's own recorder records pictures that say their time in stripes, and beeps;
the file is decoded by PyAV (FFmpeg).
"""

import base64
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from videos import watched

FIRST_S, STEP_S = 0.5, 0.53  # the beeps, not at a multiple of the pictures
_BITS = 14
_SIZE, _FPS = (640, 360), 30

RECORD = """
async ([length, [width, height], fps, first, step, bits]) => {
  const { Film, recordable } = await import("/static/film.js");
  const plan = { width, height, fps, length_s: length, card_s: 0, title: null, end: null };
  const film = new Film(plan, new Map());
  const context = new AudioContext();
  const rate = context.sampleRate;
  const sound = context.createBuffer(1, Math.ceil(length * rate), rate);
  const wave = sound.getChannelData(0);
  for (let at = first; at < length - 0.2; at += step)
    for (let i = 0; i < 0.1 * rate; i += 1)
      wave[Math.round(at * rate) + i] = 0.8 * Math.sin((2 * Math.PI * 1000 * i) / rate);
  film.draw = (t) => {
    const ms = Math.max(0, Math.round(1000 * (t + 1)));
    film.pen.fillStyle = "#000";
    film.pen.fillRect(0, 0, width, height);
    film.pen.fillStyle = "#fff";
    for (let bit = 0; bit < bits; bit += 1)
      if ((ms >> bit) & 1) film.pen.fillRect((bit * width) / bits, 0, width / bits, height);
  };
  document.body.replaceChildren(film.canvas);
  const never = new AbortController().signal;
  const made = await film.record(sound, context, recordable(), () => {}, never);
  await context.close();
  const data = new Uint8Array(await made.arrayBuffer());
  let text = "";
  for (let i = 0; i < data.length; i += 8192)
    text += String.fromCharCode(...data.subarray(i, i + 8192));
  return btoa(text);
}
"""


@dataclass
class Recorded:
    """``picture_ms`` (n,) and ``sound_ms`` (m,): how much later than its time of the film each
    picture, in its middle, and each beep is in the file."""

    picture_ms: np.ndarray
    sound_ms: np.ndarray
    kinds: list[str]

    @property
    def picture_first_ms(self):
        """By how much the picture precedes the sound; less than 0: follows it."""
        return float(np.median(self.sound_ms) - np.median(self.picture_ms))


def recorded(page, path: Path, length_s: float) -> Recorded:
    """Record stripes and beeps on a page of the studio."""
    asked = [length_s, _SIZE, _FPS, FIRST_S, STEP_S, _BITS]
    path.write_bytes(base64.b64decode(page.evaluate(RECORD, asked)))
    seen = watched(path)
    columns = [round((bit + 0.5) * _SIZE[0] / _BITS) for bit in range(_BITS)]
    white = seen.frames[:, _SIZE[1] // 2, columns].mean(axis=2) > 128
    shown_ms = white @ (1 << np.arange(_BITS)) - 1000
    loud = np.flatnonzero(np.abs(seen.sound) > 0.2 * np.abs(seen.sound).max())
    first = loud[np.flatnonzero(np.diff(seen.sound_s[loud], prepend=-1.0) > 0.15)]
    wanted_s = FIRST_S + STEP_S * np.arange(len(first))
    return Recorded(
        (1000 * (seen.time_s + 0.5 / _FPS) - shown_ms)[3:],  # the first came before it ran
        1000 * (seen.sound_s[first] - wanted_s),
        seen.kinds,
    )
