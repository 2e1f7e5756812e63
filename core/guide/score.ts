/**
 * A piece as the guide, the line-up and the intonation know it: parts with notes, metres and tempo. Positions and lengths are
 * in quarter notes from the first note position of the piece (a pick-up bar begins at 0), as they sound when played through:
 * repeats are unrolled, ties joined, transposing instruments brought to sounding pitch.
 */
export interface Score {
  readonly title: string;
  /** In score order, top first. */
  readonly parts: readonly Part[];
  /** At least one; the first at bar 0 of `barLines` (the pick-up bar, if there is one, else bar 1). */
  readonly metres: readonly Metre[];
  /** Length of an incomplete first bar; 0 when the piece begins on a full bar. */
  readonly pickUpQuarters: number;
  readonly tempo: readonly TempoMark[];
  readonly holds: readonly Hold[];
  /** To the end of the last bar. */
  readonly lengthQuarters: number;
  /** What was read by a rule of ours, left out or mended; plain sentences. */
  readonly notes: readonly string[];
}

export interface Part {
  readonly id: string;
  readonly name: string;
  readonly sound: SoundFamily;
  /** By position, then pitch. */
  readonly notes: readonly Note[];
}

/** How the mock-up plays a part. */
export type SoundFamily = 'bowed' | 'blown' | 'plucked' | 'voice' | 'struck';

export interface Note {
  readonly atQuarters: number;
  readonly lengthQuarters: number;
  /** Sounding pitch as a MIDI key number: 60 is C4, 69 is A4; fractions are quarter tones and the like. */
  readonly key: number;
  /** 0 (softest) to 1 (loudest). */
  readonly loudness: number;
}

/** From `atBar` on; bars are counted by their index, 0 first. */
export interface Metre {
  readonly atBar: number;
  readonly beats: number;
  /** 1, 2, 4, 8, 16 or 32: which part of a whole note is counted. */
  readonly unit: number;
  /** How the units are grouped to beats (6/8: 3 + 3); null leaves it to the custom, see `groupsOf`. */
  readonly groups: readonly number[] | null;
}

export interface TempoMark {
  readonly atQuarters: number;
  readonly quartersPerMinute: number;
  /** The tempo changes evenly over the way to the next mark (ritardando, accelerando); false: it stays. */
  readonly glides: boolean;
}

/** A fermata: the score waits at a position for some seconds. What stands at the position itself sounds after it. */
export interface Hold {
  readonly atQuarters: number;
  readonly sec: number;
}
