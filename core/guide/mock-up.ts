import type { Instrument, NoteShape } from './instrument.ts';
import { addTables, type TableReading, type WaveTable } from './wave-table.ts';

/** A note to be played: frames and Hz. */
export interface PlayedNote {
  readonly fromFrame: number;
  readonly toFrame: number;
  readonly hz: number;
  /** 0 to 1. */
  readonly loudness: number;
}

/** The shape of a note is worked out this often and drawn straight between, frames. */
const STEP_FRAMES = 64;
/** Below this share of its level a note is over. */
const OVER = 0.0005;
/** From softest to loudest, dB. */
const DYNAMIC_DB = 18;
/** Level of a note at full loudness, linear. */
const NOTE_LEVEL = 0.12;

/**
 * Plays the notes of one part with an instrument, block after block. The sound does not depend on how it is cut. Latency 0.
 * Memory: the notes, and a few numbers for each that sounds.
 */
export class PartPlayer {
  readonly #notes: readonly PlayedNote[];
  readonly #instrument: Instrument;
  readonly #rateHz: number;
  #sounding: SoundingNote[] = [];
  #next = 0;
  #frame = 0;

  /** notes: by their beginning. */
  constructor(notes: readonly PlayedNote[], instrument: Instrument, rateHz: number) {
    this.#notes = notes;
    this.#instrument = instrument;
    this.#rateHz = rateHz;
  }

  /** Adds the next `target.length` frames, times `gain`, to what is in `target`. */
  addTo(target: Float32Array, gain: number): void {
    const end = this.#frame + target.length;
    while (this.#next < this.#notes.length && this.#notes[this.#next]!.fromFrame < end) {
      const note = this.#notes[this.#next++]!;
      this.#sounding.push(new SoundingNote(note, this.#instrument, this.#rateHz));
    }
    for (const note of this.#sounding) note.addTo(target, this.#frame, gain);
    this.#sounding = this.#sounding.filter((note) => !note.isOver);
    this.#frame = end;
  }
}

class SoundingNote {
  isOver = false;
  readonly #bright: WaveTable;
  readonly #mellow: WaveTable;
  readonly #shape: NoteShape;
  readonly #level: number;
  readonly #fromFrame: number;
  readonly #lengthFrames: number;
  readonly #rateHz: number;
  readonly #reading: TableReading;
  #at = 0;

  constructor(note: PlayedNote, instrument: Instrument, rateHz: number) {
    this.#bright = instrument.bright.at(note.hz);
    this.#mellow = instrument.mellow.at(note.hz);
    this.#shape = instrument.shape;
    const softerDb = DYNAMIC_DB * (1 - Math.min(1, Math.max(0, note.loudness)));
    this.#level = NOTE_LEVEL * instrument.level * 10 ** (-softerDb / 20);
    this.#fromFrame = note.fromFrame;
    this.#lengthFrames = Math.max(STEP_FRAMES, note.toFrame - note.fromFrame);
    this.#rateHz = rateHz;
    const share = this.#shape.brightAtFirst;
    const increment = note.hz / rateHz;
    this.#reading = { phase: 0, increment, share, shareStep: 0, amplitude: 0, amplitudeStep: 0 };
  }

  addTo(target: Float32Array, targetFrame: number, gain: number): void {
    for (let n = Math.max(0, this.#fromFrame + this.#at - targetFrame); n < target.length; ) {
      const done = this.#at % STEP_FRAMES;
      if (done === 0 && !this.#step()) return;
      const to = Math.min(target.length, n + STEP_FRAMES - done);
      addTables(this.#bright, this.#mellow, this.#reading, target, n, to, gain);
      this.#at += to - n;
      n = to;
    }
  }

  /** Sets out for the next point of the shape; false when the note is over. */
  #step(): boolean {
    const next = this.#at + STEP_FRAMES;
    const reading = this.#reading;
    reading.amplitudeStep = (this.#level * this.#shapeAt(next) - reading.amplitude) / STEP_FRAMES;
    reading.shareStep = (this.#brightAt(next) - reading.share) / STEP_FRAMES;
    this.isOver = this.#at > this.#lengthFrames && reading.amplitude < OVER * this.#level;
    return !this.isOver;
  }

  #shapeAt(frame: number): number {
    const { attackSec, decaySec, releaseSec } = this.#shape;
    const sec = frame / this.#rateHz;
    const rise = sec >= attackSec ? 1 : 0.5 - 0.5 * Math.cos((Math.PI * sec) / attackSec);
    const afterEnd = Math.max(0, frame - this.#lengthFrames) / this.#rateHz;
    return rise * 10 ** (-3 * (sec / decaySec + afterEnd / releaseSec));
  }

  #brightAt(frame: number): number {
    const { brightAtFirst, brightSec, brightLater } = this.#shape;
    return brightLater + (brightAtFirst - brightLater) * Math.exp((-1.1 * frame) / this.#rateHz / brightSec);
  }
}
