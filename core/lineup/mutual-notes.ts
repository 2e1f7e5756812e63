import type { Sound } from '../signal/sound.ts';
import { CELL_SEC, fineLateness, type MarkBeginnings } from './fine-lateness.ts';
import { type NoteStep, stepsInNotes } from './follow-notes.ts';
import type { LagPeak, LagSearch } from './lag-search.ts';
import { fitOnsets, robustLine } from './onset-fit.ts';
import { STRETCH_SEC } from './onset-sums.ts';
import { asMs } from './sentences.ts';
import { indexAfter, type Lateness, stepAt } from './step-test.ts';
import type { Rises } from './trace.ts';
import { WaveBreaks } from './wave-breaks.ts';
import type { Testimony } from './witness.ts';

/** The attacks of two instruments differ by this in what can be heard of their beginning, s (measured: to 50 ms). */
const MUTUAL_SPREAD_SEC = 0.025;
/** Two takes of one voice: only the player's two means differ, s. */
const SAME_VOICE_SPREAD_SEC = 0.008;
/** A match of two takes' note beginnings this high is beyond chance. */
const SURE_HEIGHT = 8;
/** Where two takes' notes begin together. */
export interface Mutual {
  readonly peaks: readonly LagPeak[];
  /** Both play the same notes. */
  readonly sameVoice: boolean;
}

/** The lags at which a take's notes begin with those of the reference. */
export function mutualPeaks(search: LagSearch, reference: Rises, take: Rises): Mutual {
  const { byLine: byBand, broad } = search.peaks(reference, take);
  const sameVoice = (byBand[0]?.height ?? 0) > Math.max(12, broad[0]?.height ?? 0);
  return { peaks: sameVoice ? byBand : broad, sameVoice };
}

/** Height of the mutual correlation near a lag, 0 when none of the peaks is there. */
export function support(peaks: readonly LagPeak[], lagSec: number): number {
  return peaks.find((peak) => Math.abs(peak.lagSec - lagSec) < 0.08)?.height ?? 0;
}

/** What a take's notes say against those of another. */
export interface MutualNotes {
  readonly testimony: Testimony;
  /** Stretch by stretch, against a clock without drift that shows leadSec at the reference's time zero. */
  readonly lateness: readonly Lateness[];
  /** The same note by note, where enough notes begin together. */
  readonly fine: readonly Lateness[] | undefined;
  readonly leadSec: number;
  readonly spreadSec: number;
  readonly trust: number;
}

/** How a take's notes lie against the reference's about a start, s; undefined where they are not beyond chance there. */
export function mutualNotes(
  reference: MarkBeginnings,
  take: { readonly sound: Sound; readonly rises: Rises },
  startSec: number,
  { peaks, sameVoice }: Mutual,
): MutualNotes | undefined {
  const height = support(peaks, startSec);
  if (height < SURE_HEIGHT) return undefined;
  const fit = fitOnsets(reference.rises, take.rises, startSec, 0, !sameVoice);
  if (!fit || Math.abs(fit.laterSec) > 0.09) return undefined;
  const spreadSec = sameVoice ? SAME_VOICE_SPREAD_SEC : MUTUAL_SPREAD_SEC;
  const trust = Math.min(0.8, (1 - Math.exp(-(height - 6) / 6)) * (height / peaks[0]!.height));
  const rest = { leadSec: startSec, spreadSec, trust };
  const nearer = { leadSec: startSec + fit.laterSec, driftPpm: 0 };
  const fine = fineLateness(reference, take, nearer, !sameVoice);
  return {
    ...rest,
    lateness: fit.along,
    fine: fine?.map((one) => ({ ...one, laterSec: one.laterSec + fit.laterSec })),
    testimony: testify(fit, rest),
  };
}

function testify(
  line: { readonly atSec: number; readonly laterSec: number; readonly errorSec: number },
  { leadSec, spreadSec, trust }: Pick<MutualNotes, 'leadSec' | 'spreadSec' | 'trust'>,
): Testimony {
  const uncertaintySec = Math.hypot(line.errorSec, spreadSec);
  const note = `Its notes begin together with those of another take; their mean is good to about ${asMs(uncertaintySec)}.`;
  const { atSec, laterSec } = line;
  return { kind: 'mutual', atSec, takeSec: leadSec + atSec + laterSec, uncertaintySec, trust, note };
}

/** The notes with steps taken out of their lateness from reference times on, s. */
export function withoutSteps(
  notes: MutualNotes,
  steps: readonly { readonly fromSec: number; readonly stepSec: number }[],
): MutualNotes {
  if (steps.length === 0) return notes;
  const straight = (one: Lateness): Lateness => {
    const bySec = steps.reduce((sum, step) => sum + (one.atSec > step.fromSec ? step.stepSec : 0), 0);
    return { ...one, laterSec: one.laterSec - bySec };
  };
  const lateness = notes.lateness.map(straight);
  const line = robustLine(
    lateness.map((one) => one.atSec),
    lateness.map((one) => one.laterSec),
    lateness.map((one) => one.weight),
  );
  return line ? { ...notes, lateness, fine: notes.fine?.map(straight), testimony: testify(line, notes) } : notes;
}

/** Steps of two takes are one and the same when they differ by no more than so many standard deviations and this, s. */
const ALIKE = 3;
const ALIKE_SEC = 0.004;
const LEAST_SHARE = 0.75;
/** From this probability on a jump of the reference is looked at in each of several others. */
const LIKELY_IF_ALIKE = 0.5;

/**
 * Jumps of the reference itself: where all the others come to lie late or early against it together. stepSec: by how much
 * they do, so much sound it lost. Of two takes alone it is the reference's only where its own sound breaks.
 */
export function stepsOfReference(sound: Sound, others: readonly MutualNotes[]): NoteStep[] {
  if (others.length === 0) return [];
  const along = others.map((one) => one.fine ?? one.lateness);
  const isNoteByNote = others.every((one) => one.fine !== undefined);
  const common = commonLateness(along, isNoteByNote ? CELL_SEC : STRETCH_SEC);
  // Several players who all step at its break bear one another out below.
  const asked = { isNoteByNote, ...(others.length > 1 ? { least: LIKELY_IF_ALIKE } : {}) };
  return stepsInNotes(common, { leadSec: 0, driftPpm: 0 }, new WaveBreaks(sound), asked).jumps.filter((step) => {
    const heard = along.map((lateness) => stepAt(lateness, indexAfter(lateness, step.takeSec), []));
    const alike = heard.filter(
      (one) =>
        one !== undefined &&
        Math.abs(one.stepSec - step.stepSec) < ALIKE * one.stepErrorSec + ALIKE_SEC &&
        one.stepSec / step.stepSec > 0.4,
    );
    return alike.length >= LEAST_SHARE * others.length && (others.length > 1 || step.isBreak);
  });
}

/** The mean lateness of several takes, in entries of lengthSec, each take about its own usual one. */
function commonLateness(others: readonly (readonly Lateness[])[], lengthSec: number): Lateness[] {
  const sums = new Map<number, { at: number; later: number; entries: number; takes: Set<number> }>();
  for (const [take, lateness] of others.entries()) {
    const usual = lateness.map((one) => one.laterSec).sort((a, b) => a - b)[lateness.length >> 1]!;
    for (const { atSec, laterSec } of lateness) {
      const key = Math.floor(atSec / lengthSec);
      const sum = sums.get(key) ?? { at: 0, later: 0, entries: 0, takes: new Set<number>() };
      sum.at += atSec;
      sum.later += laterSec - usual;
      sum.entries++;
      sum.takes.add(take);
      sums.set(key, sum);
    }
  }
  return [...sums]
    .filter(([, { takes }]) => 2 * takes.size >= others.length)
    .sort(([a], [b]) => a - b)
    .map(([, { at, later, entries, takes }]) => {
      return { atSec: at / entries, laterSec: later / entries, weight: takes.size, lengthSec };
    });
}
