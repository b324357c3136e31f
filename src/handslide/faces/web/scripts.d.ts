// What the studio's scripts are handed: JSON of the server, and events between scripts.
// Read by the type checker only (`make check`); browsers get the scripts as they are.

/** Texts by their key, as a page hands them to its scripts. */
type Texts = Record<string, string>;

/** A place of a note: none where `partial` or `extension_mm` is null. */
interface NotePlace {
  valves: string[];
  partial?: number | null;
  position: number | null;
  extension_mm: number | null;
  /** The place in the reader's language. */
  words?: string | null;
}

/** A written note of a part with its place (handslide.studio.parts.standjson). */
interface RouteNote extends NotePlace {
  /** Its number among the written notes. */
  i: number;
  /** The id of its element in the engraving. */
  el: string;
  measure: string;
  /** Number of its measure, from 0. */
  mi: number;
  name: string;
  midi: number;
  mark: string;
  unusual: boolean;
  new: boolean;
  locked: boolean;
  playable: boolean;
}

/** A note as it is played (handslide.jobs.mark.playback): `i` is its written note. */
interface PlayedRow {
  i: number;
  on_s: number;
  len_s: number;
  slur: boolean;
  gliss: boolean;
  hz: number;
  /** What the slide has to come to it; null for the first. */
  move_s: number | null;
  /** How long it sounds, and how its loudness goes, where that is known. */
  sounds_s?: number;
  dynamics?: import("../../data/scripts/tone.js").Dynamics | null;
}

/** A note of another part: MIDI note, second, how long it sounds, dB from mezzo-forte, timbre. */
type OtherRow = [midi: number, on_s: number, sounds_s: number, db: number, timbre: string];

/** The second of a beat, and 1 where it begins a measure. */
type Beat = [second: number, strong: number];

interface SlidePosition {
  n: number;
  mm: number;
}

/** A slide (handslide.jobs.mark.slideview); lengths in mm from the closed stop. */
interface SlideHorn {
  title: string;
  travel_mm: number;
  positions: SlidePosition[];
  positions_with?: Record<string, SlidePosition[]>;
  valves: string[];
  reach_mm?: number | null;
  /** The SVG of handslide.sheets.slide, and as its player sees it: away is up. */
  drawing: string;
  upright: string;
}

interface RouteWarning {
  measure: string | null;
  i: number | null;
  kind: string;
  text: string;
}

/** Where the slide was in the last take (handslide.studio.takes.lasttake). */
interface LastTake {
  take_id: number;
  notes: { i: number; mm: number; off_mm: number }[];
}

interface RouteState {
  warnings: RouteWarning[];
  seen_to: number | null;
  seal: string;
  can_undo: boolean;
  can_redo: boolean;
  locks: number;
}

/** What a player plays. */
interface PlayedRoute {
  a4_hz: number;
  tempo_qpm: number;
  notes: RouteNote[];
  played: PlayedRow[];
  beats: Beat[];
  /** Of the other parts, in order, and how many parts they are. */
  others?: OtherRow[];
  parts?: number;
}

interface Route extends RouteState, PlayedRoute {
  horn: SlideHorn;
}

interface RouteChanges extends RouteState {
  /** The seal before the edit. */
  was: string;
  /** The notes that the edit was made on. */
  about: number[];
  changed: RouteNote[];
}

/** Written notes from one to another, both included. */
interface NoteRange {
  from: number;
  to: number;
}

/** What a page with a microphone knows of the student's horn. */
interface Rig {
  horn: SlideHorn;
  a4_hz: number;
  notes: { midi: number; name: string }[];
}

/** What the live view is told (handslide.studio.takes.live, handslide.faces.web.live). */
interface HeardMessage {
  t: number;
  hz: number | null;
  midi: number | null;
  /** The note's name in the reader's language. */
  note: string | null;
  cents: number | null;
  /** How high it sounds, and the words for it. */
  tune: "in_tune" | "off" | "far" | null;
  text: string | null;
  place: (NotePlace & { mark: string }) | null;
  slide_mm: number | null;
  /** Where in the part this is; null without a part. */
  part: { i: number | null; next: number | null; state: "at" | "turning" | "other" | "lost" } | null;
  /** Notes of the part that are over since the last message; brief: too short to be judged yet. */
  passed: { i: number; sign: "hit" | "in" | "out" | "gone" | "other" | "brief"; mm: number | null }[];
  error?: { kind: string; text: string };
}

/** A block of recorded sound: 16-bit samples, and how loud they are. */
interface SoundBlock {
  block: Int16Array<ArrayBuffer>;
  peak: number;
  level: number;
  over: number;
}

interface HtmxDetail {
  successful: boolean;
  xhr?: XMLHttpRequest;
}

/** Events that scripts send each other over the document, and those of htmx. */
interface DocumentEventMap {
  "hs:route": CustomEvent<Route>;
  "hs:select": CustomEvent<RouteNote>;
  "hs:point": CustomEvent<(NotePlace & { mark?: string }) | null>;
  "hs:ghost": CustomEvent<number | null>;
  "hs:range": CustomEvent<NoteRange | null>;
  "hs:ask": CustomEvent<null>;
  /** A hand-out has got larger or smaller type. */
  "hs:size": CustomEvent<null>;
  /** A form that the browser is about to send. */
  "hs:back": CustomEvent<null>;
  "hs:sending": CustomEvent<HTMLFormElement>;
  "hs:cursor": CustomEvent<{ i: number | null }>;
  "htmx:sendError": CustomEvent<HtmxDetail>;
  "htmx:timeout": CustomEvent<HtmxDetail>;
  "htmx:beforeRequest": CustomEvent<HtmxDetail>;
  "htmx:afterRequest": CustomEvent<HtmxDetail>;
  "htmx:beforeSwap": CustomEvent<HtmxDetail>;
  "htmx:afterSwap": CustomEvent<HtmxDetail>;
}

// The scope of an audio worklet, which the checker's library of the page doesn't have.
declare class AudioWorkletProcessor {
  readonly port: MessagePort;
  constructor(options?: AudioWorkletNodeOptions);
}

declare function registerProcessor(
  name: string,
  processor: new (options: AudioWorkletNodeOptions) => AudioWorkletProcessor,
): void;

/** Sets htmx up on what a script has put into the page. */
declare const htmx: { process(element: Element): void };
