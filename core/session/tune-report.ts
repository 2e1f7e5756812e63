import { type IntonationReport, intonationReport } from '../pitch/intonation.ts';
import type { PitchVerdict } from '../pitch/pitch-verdict.ts';
import { type TimingReport, timingReport } from '../pitch/timing.ts';
import { type Cancel, throwIfCancelled } from '../signal/fault.ts';
import { type MatchedVoices, type TrackedVoice, type TuneAgainst, VoiceMatcher } from './voice-matcher.ts';

export type { TrackedVoice, TuneAgainst } from './voice-matcher.ts';

export interface VoiceTuning {
  readonly id: string;
  readonly name: string;
  readonly verdict: PitchVerdict;
  /** Part of the score it plays; null without a score, or where none fits. */
  readonly part: string | null;
  readonly notesHeard: number;
  /** Notes of the part, and how many of them were measured; null without a part. */
  readonly notesWritten: number | null;
  readonly notesMatched: number | null;
  /** Half tones it sounds above what is written: octaves, or another key; 0 without a part. */
  readonly shiftHalfTones: number;
  /** Notes that were played where others are written; keys as they sound. */
  readonly wrongNotes: readonly {
    readonly bar: number | null;
    readonly sec: number;
    readonly writtenKey: number;
    readonly heardKey: number;
  }[];
}

/** How takes are in tune and in time. Plain JSON. */
export interface TuneFindings {
  readonly voices: readonly VoiceTuning[];
  readonly against: 'guide' | 'score' | 'keys';
  /** Null where no pitch was found. */
  readonly intonation: IntonationReport | null;
  /** Null where fewer than two voices have a place, and no guide tells times. */
  readonly timing: TimingReport | null;
  readonly notes: readonly string[];
}

/** Holds voices against a score, or the keys, and against each other. Pure: reads and writes nothing. Throws CancelledError. */
export function tuneFindings(all: readonly TrackedVoice[], against: TuneAgainst, cancel?: Cancel): TuneFindings {
  const matcher = new VoiceMatcher(against, cancel);
  const matched = matcher.match(all);
  const { tuned, placed, notes } = matched;
  throwIfCancelled(cancel);
  const intonation = intonationReport(tuned, { referenceHz: against.referenceHz, cancel }) ?? null;
  const isTogether = placed.length > 0;
  throwIfCancelled(cancel);
  return {
    voices: voiceTunings(matched, matcher),
    against: matcher.clockKnown ? 'guide' : matcher.isKnown ? 'score' : 'keys',
    intonation:
      intonation === null || isTogether
        ? intonation
        : { ...intonation, worstChords: [], chordsMeasured: 0, chordsOut: 0, chordsOutByHabit: [] },
    timing: timingOf(placed, against),
    notes,
  };
}

/** What placed voices are held against in time; null where nothing tells. A guide that is but a click tells times as well: those of its beats. */
export function timedAgainst(
  placed: MatchedVoices['placed'],
  { plan }: Pick<TuneAgainst, 'plan'>,
): TimingReport['against'] | null {
  if (plan !== undefined) return 'guide';
  return placed.filter((voice) => voice.notes.length > 0).length > 1 ? 'others' : null;
}

function timingOf(placed: MatchedVoices['placed'], against: Pick<TuneAgainst, 'plan'>): TimingReport | null {
  const timed = timedAgainst(placed, against);
  return timed === null ? null : timingReport(placed, timed);
}

function voiceTunings({ voices, matches }: MatchedVoices, { parts }: VoiceMatcher): VoiceTuning[] {
  return voices.map((voice, index): VoiceTuning => {
    const match = matches[index] ?? null;
    return {
      id: voice.id,
      name: voice.name,
      verdict: voice.tracked.verdict,
      part: match === null ? null : parts[match.part]!.name,
      notesHeard: voice.tracked.notes.length,
      notesWritten: match === null ? null : parts[match.part]!.notes.length,
      notesMatched: match === null ? null : match.notes.length,
      shiftHalfTones: match?.alignment.halfTones ?? 0,
      wrongNotes: (match?.wrong ?? []).map(({ expected, fromSec, key }) => ({
        bar: expected.bar,
        sec: fromSec,
        writtenKey: expected.key + match!.alignment.halfTones,
        heardKey: key + match!.alignment.halfTones,
      })),
    };
  });
}
