// Tones made from harmonics with the browser's own audio clock. The levels of the harmonics are
// those of the studio's tones everywhere else; a soft tone has less of the high ones. Every tone
// begins and ends on a raised cosine, so that nothing clicks; a limiter lets nothing clip.

const HIGHEST_SHARE = 0.45; // of the rate: harmonics above are left away
const BRIGHT_HZ = 1100;
const SOFTEST_DB = -18; // how much weaker the harmonics above BRIGHT_HZ are in the softest tone
const FULL = 0.25; // level (root mean square) of the loudest tone
const ATTACK_S = 0.025;
const RELEASE_S = 0.05;
const SLUR_S = 0.035;
const BRIGHT_PER_DB = 1 / 48;
const MOST_DB = 9; // louder would only bend
const STRONGER_S = 0.25;
const [DECAY_S, DECAY_HZ] = [1.1, 261.6];
const START = 0.05; // nothing is put on the clock nearer than this
export const MODERATE = 0.4; // the volume that each page begins with

const RISE = Float32Array.from({ length: 65 }, (_, k) => 0.5 - 0.5 * Math.cos((Math.PI * k) / 64));
const FALL = Float32Array.from(RISE).reverse();

/**
 * What sounds and can be stopped at once, without a click.
 * @typedef {{ stop: () => void }} Voice
 * @typedef {Voice & { osc: OscillatorNode, level: GainNode, going: GainNode }} ToneVoice
 * How the loudness of a tone goes: `corners` are share of the tone, dB, share, dB, …; it begins
 * stronger by so many dB.
 * @typedef {{ corners: number[], stronger_db: number }} Dynamics
 */

/**
 * Levels of the harmonics of a tone of power 1: +9 dB an octave to a formant near 550 Hz, about
 * 13 dB an octave down above 1.1 kHz.
 * @param {number} f0Hz
 * @param {number} rateHz
 */
export function levels(f0Hz, rateHz, count = 30) {
  /** @type {number[]} */
  const found = [];
  for (let n = 1; n <= count && n * f0Hz < HIGHEST_SHARE * rateHz; n++) {
    const hz = n * f0Hz;
    found.push(
      (hz / 550) ** 1.5 / Math.sqrt(1 + (hz / 550) ** 4) / (1 + (hz / 1100) ** 4) ** 0.35,
    );
  }
  const power = Math.sqrt(found.reduce((sum, level) => sum + level * level, 0) / 2);
  return found.map((level) => level / power);
}

/**
 * Harmonics of what isn't brass: they fall from the first on, by 10 dB an octave.
 * @param {number} f0Hz
 * @param {number} rateHz
 */
function mildLevels(f0Hz, rateHz, count = 20) {
  const most = Math.max(1, Math.min(count, Math.floor((HIGHEST_SHARE * rateHz) / f0Hz)));
  const found = Array.from({ length: most }, (_, k) => (k + 1) ** -1.65);
  const power = Math.sqrt(found.reduce((sum, level) => sum + level * level, 0) / 2);
  return found.map((level) => level / power);
}

/** @param {number} db */
const gainOfDb = (db) => 10 ** (Math.min(MOST_DB, db) / 20);

/**
 * @param {GainNode} node
 * @param {number} begin
 * @param {number} length
 * @param {Dynamics} dynamics
 */
function follow({ gain }, begin, length, { corners, stronger_db }) {
  gain.setValueAtTime(gainOfDb(corners[1] + stronger_db), begin);
  if (stronger_db) gain.exponentialRampToValueAtTime(gainOfDb(corners[1]), begin + Math.min(STRONGER_S, length / 2));
  for (let k = 2; k < corners.length; k += 2) {
    gain.exponentialRampToValueAtTime(gainOfDb(corners[k + 1]), begin + corners[k] * length);
  }
}

/**
 * A struck string dies away, higher ones sooner.
 * @param {GainNode} node
 * @param {number} begin
 * @param {number} hz
 */
function decay({ gain }, begin, hz) {
  gain.setValueAtTime(1, begin);
  gain.setTargetAtTime(0, begin, DECAY_S * Math.sqrt(DECAY_HZ / hz));
}

/** @param {number} midi */
export function midiHz(midi, a4Hz = 440) {
  return a4Hz * 2 ** ((midi - 69) / 12);
}

// Ratios of just intonation above a root, by semitones.
const JUST = [1, 16 / 15, 9 / 8, 6 / 5, 5 / 4, 4 / 3, 45 / 32, 3 / 2, 8 / 5, 5 / 3, 9 / 5, 15 / 8];

/**
 * A note in just intonation to a root that itself stands in equal temperament.
 * @param {number} midi
 * @param {number} rootMidi
 */
export function justHz(midi, rootMidi, a4Hz = 440) {
  const octave = Math.floor((midi - rootMidi) / 12);
  return midiHz(rootMidi, a4Hz) * 2 ** octave * JUST[midi - rootMidi - 12 * octave];
}

// What all sound of a page runs through: volume, then a limiter. Up to 0.8 it changes nothing;
// above it bends, and nothing gets beyond 0.98.
export class Desk {
  /** @param {AudioContext} context */
  constructor(context, volume = MODERATE) {
    this.context = context;
    /** @type {Map<string, PeriodicWave>} */
    this.waves = new Map();
    this.input = context.createGain();
    // What is played along with others has a level of its own.
    this.own = context.createGain();
    this.own.connect(this.input);
    this.others = context.createGain();
    this.others.connect(this.input);
    const limiter = context.createWaveShaper();
    limiter.curve = limitCurve();
    this.input.connect(limiter).connect(context.destination);
    this.volume = volume;
    this.input.gain.value = gainOf(volume);
  }

  /** @param {number} volume from 0 to 1 */
  setVolume(volume) {
    this.volume = volume;
    this.input.gain.setTargetAtTime(gainOf(volume), this.context.currentTime, 0.02);
  }

  /**
   * The wave of a pitch; phases that keep the peaks low.
   * @param {number} hz
   * @param {string} [timbre]
   */
  wave(hz, timbre = "brass") {
    const key = `${timbre} ${hz.toFixed(1)}`;
    const known = this.waves.get(key);
    if (known) return known;
    if (this.waves.size > 200) this.waves.clear();
    const found = (timbre === "brass" ? levels : mildLevels)(hz, this.context.sampleRate);
    const real = new Float32Array(found.length + 1);
    const imag = new Float32Array(found.length + 1);
    found.forEach((level, k) => {
      const phase = (-Math.PI * k * (k + 1)) / found.length;
      real[k + 1] = level * Math.cos(phase);
      imag[k + 1] = -level * Math.sin(phase);
    });
    const wave = this.context.createPeriodicWave(real, imag, { disableNormalization: true });
    this.waves.set(key, wave);
    return wave;
  }

  /**
   * Puts a tone on the clock: `at` in seconds of the context, `slurFrom`/`slurTo`: joined to the
   * tone before/behind it, `glideTo`: glides to hz in its last s seconds. `loud` 0 to 1.
   * `dynamics`: how its loudness goes; `into`: what it runs into.
   * @param {{
   *   hz: number, at: number, length: number, loud?: number, slurFrom?: boolean,
   *   slurTo?: boolean, glideTo?: { hz: number, s: number } | null, release?: number,
   *   dynamics?: Dynamics | null, timbre?: string, into?: AudioNode,
   * }} wishes
   * @returns {ToneVoice}
   */
  tone({
    hz, at, length, loud = this.volume, slurFrom, slurTo, glideTo, release = RELEASE_S,
    dynamics = null, timbre = "brass", into = this.input,
  }) {
    const begin = Math.max(at, this.context.currentTime);
    const brighter = dynamics ? dynamics.corners[1] * BRIGHT_PER_DB : 0;
    const voice = this.voice(hz, loud + brighter, { timbre, into });
    if (timbre === "struck") decay(voice.going, begin, hz);
    else if (dynamics) follow(voice.going, begin, length, dynamics);
    const rise = slurFrom ? SLUR_S : ATTACK_S;
    const end = begin + length + (slurTo ? SLUR_S : 0);
    const fall = Math.min(slurTo ? SLUR_S : release, (end - begin) / 3);
    voice.level.gain.setValueAtTime(0, begin);
    voice.level.gain.setValueCurveAtTime(RISE, begin, Math.min(rise, (end - begin) / 3));
    voice.level.gain.setValueCurveAtTime(FALL, end - fall, fall);
    if (glideTo) {
      voice.osc.frequency.setValueAtTime(hz, begin + length - glideTo.s);
      voice.osc.frequency.exponentialRampToValueAtTime(glideTo.hz, begin + length);
    }
    voice.osc.start(begin);
    voice.osc.stop(end + 0.01);
    return voice;
  }

  /**
   * A tone that goes on until it is stopped.
   * @param {number} hz
   */
  drone(hz, loud = this.volume) {
    const voice = this.voice(hz, loud);
    const begin = this.context.currentTime + START;
    voice.level.gain.setValueAtTime(0, begin);
    voice.level.gain.setValueCurveAtTime(RISE, begin, 0.3);
    voice.osc.start(begin);
    return voice;
  }

  /**
   * @param {number} hz
   * @param {number} loud
   * @param {{ timbre?: string, into?: AudioNode }} how
   * @returns {ToneVoice}
   */
  voice(hz, loud, { timbre = "brass", into = this.input } = {}) {
    const context = this.context;
    const osc = context.createOscillator();
    osc.setPeriodicWave(this.wave(hz, timbre));
    osc.frequency.value = hz;
    const shelf = context.createBiquadFilter();
    shelf.type = "highshelf";
    shelf.frequency.value = BRIGHT_HZ;
    shelf.gain.value = SOFTEST_DB * (1 - Math.min(1, Math.max(0, loud)));
    const level = context.createGain();
    level.gain.value = 0;
    const going = context.createGain();
    const out = context.createGain();
    osc.connect(shelf).connect(level).connect(going).connect(out).connect(into);
    osc.onended = () => out.disconnect();
    return {
      osc,
      level,
      going,
      stop: () => {
        const now = context.currentTime;
        out.gain.setTargetAtTime(0, now, 0.015);
        try {
          osc.stop(now + 0.15);
        } catch {
          out.disconnect(); // it had not begun
        }
      },
    };
  }

  /**
   * A beat of the metronome.
   * @param {number} at
   * @param {boolean} strong
   * @returns {Voice}
   */
  click(at, strong) {
    const begin = Math.max(at, this.context.currentTime);
    const osc = this.context.createOscillator();
    osc.frequency.value = strong ? 1760 : 1175;
    const level = this.context.createGain();
    level.gain.setValueAtTime(0, begin);
    level.gain.linearRampToValueAtTime(strong ? 1.6 : 1, begin + 0.003);
    level.gain.setTargetAtTime(0, begin + 0.006, 0.012);
    osc.connect(level).connect(this.input);
    osc.onended = () => level.disconnect();
    osc.start(begin);
    osc.stop(begin + 0.12);
    return { stop: () => level.disconnect() };
  }
}

/** @param {number} volume */
function gainOf(volume) {
  return FULL * Math.min(1, Math.max(0, volume)) ** 1.5;
}

function limitCurve() {
  const size = 4001;
  return Float32Array.from({ length: size }, (_, k) => {
    const x = (2 * k) / (size - 1) - 1;
    const over = Math.abs(x) - 0.8;
    return over <= 0 ? x : Math.sign(x) * (0.8 + 0.18 * Math.tanh(over / 0.18));
  });
}
