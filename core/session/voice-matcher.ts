import type { GuidePlan } from '../guide/guide-plan.ts';
import type { Score } from '../guide/score.ts';
import { type GuideNote, withoutLeaks } from '../pitch/guide-leak.ts';
import { matchEnsemble, type NamedVoice, type ScorePart, type VoiceMatch } from '../pitch/match-ensemble.ts';
import { clockCents } from '../pitch/match-voice.ts';
import type { PitchRow } from '../pitch/pitch-span.ts';
import type { TrackedPitch } from '../pitch/tracked-pitch.ts';
import { type FreeNote, type TunedVoice, tunedFromKeys, tunedFromScore } from '../pitch/tuned-note.ts';
import { type Clock, sessionSecOf } from '../signal/clock.ts';
import type { Cancel } from '../signal/fault.ts';
import { SESSION_RATE_HZ } from '../signal/time.ts';
import { guideNotes, keyCents, scoreParts, type Tuning } from './score-notes.ts';

/** A take whose pitch was followed, and where it lies; place null where that is not known. */
export interface TrackedVoice {
  readonly id: string;
  readonly name: string;
  readonly tracked: TrackedPitch;
  readonly row: PitchRow;
  readonly place: (Clock & { readonly uncertaintySec: number }) | null;
}

/** What voices are held against. */
export interface TuneAgainst extends Tuning {
  /** The piece, where it is known; with the plan of its guide, whose first sample is session time zero, where there is one. */
  readonly score: Score | undefined;
  readonly plan: GuidePlan | undefined;
  /** A4, Hz; null for the ensemble's own. */
  readonly referenceHz: number | null;
  /** A4 that the guide plays by, Hz; null or absent: 440. Its temperament is taken to be this one. */
  readonly guideReferenceHz?: number | null;
}

/** Voices of an ensemble, each with the part of the score that it plays and with the pitch that each of its notes should have. */
export interface MatchedVoices {
  /** Without what their microphones heard of the guide. */
  readonly voices: readonly TrackedVoice[];
  /** Null where a voice fits no part, and without a score. */
  readonly matches: readonly (VoiceMatch | null)[];
  readonly tuned: readonly TunedVoice[];
  /** Those of `tuned` whose place is known. */
  readonly placed: readonly TunedVoice[];
  readonly notes: readonly string[];
}

/** Notes of a take may lie this far outside the guide's music, s. */
const BEFORE_MUSIC_SEC = 1;
const AFTER_MUSIC_SEC = 4;
/** Farther from a beat than this share of it is a note between beats. */
const ON_BEAT = 0.2;

/**
 * Finds what voices play of a score. Where a guide tells the times, what one voice plays does not depend on the others: it is found once for
 * all the ensembles that it is looked at in.
 */
export class VoiceMatcher {
  /** Those of the score; none where it has no notes. */
  readonly parts: readonly ScorePart[];
  readonly isKnown: boolean;
  readonly clockKnown: boolean;
  readonly #against: TuneAgainst;
  readonly #cancel: Cancel | undefined;
  readonly #guide: readonly GuideNote[];
  readonly #told: readonly string[];
  readonly #own = new Map<TrackedVoice, { readonly voice: TrackedVoice; readonly leaked: number }>();
  readonly #found = new Map<TrackedVoice, VoiceMatch | null>();

  constructor(against: TuneAgainst, cancel?: Cancel) {
    const { score, plan } = against;
    this.#against = against;
    this.#cancel = cancel;
    this.isKnown = score?.parts.some((part) => part.notes.length > 0) === true;
    this.clockKnown = this.isKnown && plan !== undefined;
    const { parts, notes } = this.isKnown ? scoreParts(score!, against, plan) : { parts: [], notes: [] };
    this.parts = parts;
    this.#told = notes;
    this.#guide =
      score === undefined || plan === undefined
        ? []
        : guideNotes(score, plan, against, against.guideReferenceHz ?? 440);
  }

  /** Throws CancelledError. */
  match(all: readonly TrackedVoice[]): MatchedVoices {
    const { voices, notes } = this.#ownMusic(all);
    notes.push(...this.#told);
    const matches = this.isKnown ? this.#matchesOf(voices) : voices.map(() => null);
    for (const [index, voice] of voices.entries()) {
      if (this.isKnown && matches[index] === null && voice.tracked.notes.length > 0) {
        notes.push(`${voice.name} fits no part of the score; its notes are held against the keys.`);
      }
      const shift = matches[index]?.alignment.halfTones ?? 0;
      if (shift !== 0) notes.push(shiftWords(voice.name, shift));
    }
    notes.push(...doubled(matches, voices));
    const tuned = tunedVoices(voices, matches, this.#against);
    // Timing only among voices whose place is known; where none is, they are no chords either.
    const placed = tuned.filter((_, index) => voices[index]!.place !== null);
    return { voices, matches, tuned, placed, notes };
  }

  #matchesOf(voices: readonly TrackedVoice[]): (VoiceMatch | null)[] {
    const heard = voices.map(
      ({ name, tracked, row, place }): NamedVoice => ({
        name,
        row,
        notes: tracked.notes,
        place: place ?? { offsetSec: 0, driftPpm: 0 },
        placed: place !== null,
      }),
    );
    if (!this.clockKnown) return matchEnsemble(heard, this.parts, false, this.#cancel);
    return voices.map((voice, index) => {
      const known = this.#found.get(voice);
      if (known !== undefined) return known;
      const [match] = matchEnsemble([heard[index]!], this.parts, true, this.#cancel);
      this.#found.set(voice, match!);
      return match!;
    });
  }

  /**
   * Voices with what is their own music alone, and what is said of the rest. Where others have a place, what has none is a word spoken into the
   * phone as likely as a part; what is faint and what the guide plays at that moment came out of the headphones.
   */
  #ownMusic(all: readonly TrackedVoice[]): { readonly voices: readonly TrackedVoice[]; readonly notes: string[] } {
    const notes: string[] = [];
    const isPlaced = all.some(({ place }) => place !== null);
    const voices = all.map((voice) => {
      const { name, tracked, place } = voice;
      if (place === null) {
        const what = isPlaced ? 'its pitch and timing are not measured' : 'it is left out of the chords and the timing';
        notes.push(`Where ${name} lies is not known; ${what}. Lay it to its place in the line-up, or take it out.`);
        return isPlaced ? { ...voice, tracked: { ...tracked, notes: [] } } : voice;
      }
      const { voice: own, leaked } = this.#ownVoice(voice, place);
      if (leaked === 0) return voice;
      const many = leaked === 1 ? 'A faint note' : `${leaked} faint notes`;
      notes.push(
        `${many} in ${name} ${leaked === 1 ? 'is' : 'are'} what the guide plays at that moment, so ${leaked === 1 ? 'it counts' : 'they count'} as its sound from the headphones and ${leaked === 1 ? 'is' : 'are'} not measured.`,
      );
      return own;
    });
    return { voices, notes };
  }

  #ownVoice(voice: TrackedVoice, place: NonNullable<TrackedVoice['place']>): { voice: TrackedVoice; leaked: number } {
    const known = this.#own.get(voice);
    if (known !== undefined) return known;
    const { row, tracked } = voice;
    const { voice: own, leaked } = withoutLeaks({ row, notes: tracked.notes, place }, this.#guide);
    const found = { voice: { ...voice, row: own.row, tracked: { ...tracked, notes: own.notes } }, leaked };
    this.#own.set(voice, found);
    return found;
  }
}

/** What is said of a voice that sounds higher or lower than written. */
function shiftWords(name: string, halfTones: number): string {
  const way = halfTones < 0 ? 'lower' : 'higher';
  const size = Math.abs(halfTones);
  if (size % 12 === 0) {
    return `${name} sounds ${size === 12 ? 'an octave' : `${size / 12} octaves`} ${way} than written, and is held against that.`;
  }
  const tones = size === 1 ? 'a half tone' : `${size} half tones`;
  return `${name} sounds ${tones} ${way} than written, and is held against that: if it was to sound as written, it was read in another key or tuned to another A.`;
}

/** Voices that play one part: takes of one voice, as a rule, which are no chord. */
function doubled(matches: readonly (VoiceMatch | null)[], voices: readonly TrackedVoice[]): string[] {
  const names = new Map<number, string[]>();
  for (const [index, match] of matches.entries()) {
    if (match !== null) names.set(match.part, [...(names.get(match.part) ?? []), voices[index]!.name]);
  }
  return [...names.values()]
    .filter((several) => several.length > 1)
    .map(
      (several) =>
        `${several.slice(0, -1).join(', ')} and ${several.at(-1)} play the same part, and are held against each other too: if these are takes of one voice, name one of them at a time.`,
    );
}

function tunedVoices(
  voices: readonly TrackedVoice[],
  matches: readonly (VoiceMatch | null)[],
  against: TuneAgainst,
): TunedVoice[] {
  const free = tunedFromKeys(
    voices.map(({ id, name, tracked, place }, index) => ({
      id,
      name,
      notes: matches[index] === null ? freeNotes(tracked, place, against.plan) : [],
    })),
    (key) => keyCents(key, against),
  );
  return voices.map(({ id, name, place }, index) => {
    const match = matches[index] ?? null;
    const notes = match === null ? free[index]!.notes : tunedFromScore(match.notes, match.alignment);
    return { id, name, notes, placeUncertaintySec: place?.uncertaintySec ?? 0 };
  });
}

/** The beat that a note begins on: within a fifth of the way to the next one; null for what lies between beats. */
function beatNear(sec: number, beatsSec: readonly number[]): number | null {
  const after = beatsSec.findIndex((beat) => beat >= sec);
  const at = after < 0 ? beatsSec.length - 1 : after;
  const [before, next] = [beatsSec[at - 1], beatsSec[at]];
  if (before === undefined || next === undefined) return null;
  const nearest = sec - before < next - sec ? before : next;
  return Math.abs(sec - nearest) <= ON_BEAT * (next - before) ? nearest : null;
}

/** A take's notes on the session's clock, with the bars of the guide. */
function freeNotes(tracked: TrackedPitch, place: Clock | null, plan: GuidePlan | undefined): FreeNote[] {
  const at = place ?? { offsetSec: 0, driftPpm: 0 };
  const bars = plan?.bars ?? [];
  const beatsSec = bars.flatMap((bar) => bar.beatFrames.map((frame) => frame / SESSION_RATE_HZ));
  return tracked.notes.flatMap((note): FreeNote[] => {
    const fromSec = sessionSecOf(at, note.fromSec);
    const frame = fromSec * SESSION_RATE_HZ;
    const outside =
      plan !== undefined &&
      (frame < plan.musicFrame - BEFORE_MUSIC_SEC * SESSION_RATE_HZ ||
        frame > plan.musicEndFrame + AFTER_MUSIC_SEC * SESSION_RATE_HZ);
    if (outside) return [];
    return [
      {
        fromSec,
        toSec: sessionSecOf(at, note.toSec),
        cents: note.cents + clockCents(at, note.fromSec),
        spreadCents: note.spreadCents,
        uncertaintyCents: note.uncertaintyCents,
        bar: bars.findLast((bar) => bar.frame <= frame + 1)?.number ?? null,
        onsetSec: sessionSecOf(at, note.onsetSec),
        onsetUncertaintySec: note.onsetUncertaintySec,
        expectedSec: beatNear(sessionSecOf(at, note.onsetSec), beatsSec),
      },
    ];
  });
}
