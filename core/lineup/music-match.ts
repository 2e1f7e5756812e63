import { attackSpan } from './attack-span.ts';
import type { GuideMap } from './guide-map.ts';
import type { LagPeak, LagSearch } from './lag-search.ts';
import { type Line, takeSecOn } from './line.ts';
import { fitOnsets, type OnsetFit, robustLine } from './onset-fit.ts';
import { asMs } from './sentences.ts';
import type { Lateness } from './step-test.ts';
import type { Levels, Rises } from './trace.ts';
import type { Testimony } from './witness.ts';

/**
 * Notes played in a room seem later than the same notes in a dry guide, by 3 ms (14 takes), and by how much is the instrument's own: with this
 * spread 110 of 114 takes of 64 sampled instruments lay within twice their residual of when their notes were struck, and of 22 other
 * instruments 35 of 38 (the long trial of notes-alone.judge.test.ts).
 */
const NOTE_LATENESS_SEC = 0.003;
const NOTE_LATENESS_SPREAD_SEC = 0.006;
/** Against clicks alone a note seems later by what its attack takes; measured: 8 to 45 ms. */
const CLICK_LATENESS_SEC = 0.02;
const CLICK_LATENESS_SPREAD_SEC = 0.02;
/** Mean of a player's notes against the guide over a piece, spread from take to take, s (measured: 4.3 ms). */
const PLAYER_SPREAD_SEC = 0.0043;
/** Attacks that take so much longer than the guide's, s, are quick ones still (struck and plucked samples: 12 ms at most). */
const QUICK_SEC = 0.012;
/**
 * What slow attacks leave in doubt at most, s, one standard deviation. Measured on 16 takes of 10 instruments: the root of the mean square by which their
 * notes lay off the moment they were struck at or that at which they are heard to begin, whichever lay farther, 19.6 ms; strings, choirs and
 * tremolo lie farther off, by 43 to 47 ms.
 */
const MOST_ATTACK_DOUBT_SEC = 0.024;
/**
 * The same where no note stands out from the one before, so that nothing is known of how they begin; a guess: with it 47 of 48 sampled takes lay
 * within twice their residual.
 */
const UNSEEN_ATTACK_DOUBT_SEC = 0.008;
/** Share of the scatter between stretches that is not already in the spread above (measured on 30 takes). */
const OWN_SCATTER = 0.6;
/** A player's slow wander over a piece, s: what keeps notes from telling the drift. */
const WANDER_SEC = 0.01;
/** Note beginnings tell the drift only when they tell it better than this, ppm, or this many standard errors from none. */
const USEFUL_DRIFT_PPM = 60;
const SURE_DRIFT = 4;
/** No clock runs off like that, ppm: there the take jumps, or its player does. */
const MOST_DRIFT_PPM = 450;
/**
 * A match this high is beyond chance. Measured on 30 takes against their own guide and 22 against that of another piece in
 * the same style: line by line 14 to 65 and 6 to 12 (two basses 15 and 19), by beginnings alone 5 to 21 and 4 to 7.
 */
const SURE_BY_LINE = 10;
const SURE_BROAD = 8;
/** Below this trust a match line by line is one of clicks (measured: notes 0.6 and more, clicks 0.2 and less). */
const LEAST_NOTE_TRUST = 0.4;
/** By beginnings alone a guide of notes must be matched this high: beats of another piece reach 11 where lines match nowhere. */
const SURE_BROAD_NOTES = 12;
/** Places looked at where notes are compared line by line. */
const MOST_BY_LINE = 6;
/** Peaks at least this share of the highest are kept as possible places. */
const ALIKE = 0.7;
/** Lags nearer than this are one place, s. */
const SAME_PLACE_SEC = 0.15;
/** Places nearer than this are beats of one piece, s, and not other places of it. */
const BEATS_SEC = 2;
/**
 * A match that is not this many times as high as another some beats off may lie a beat off, and is no more sure than this by itself. Measured on
 * bowed and blown samples: wrong by half a beat at 1.01, 1.07 and 1.21, right at 1.11 and at 1.27 and more.
 */
const SURE_LEAD = 1.25;
const MOST_DOUBTED = 0.45;
/** A clap answers a place from this score on, and no other place where that has less than this share of it. */
const LEAST_ANSWER = 0.2;
const LEAST_SHARE = 0.25;
/** Matches against a guide of notes that are less sure than this, 0 to 1, are those of another piece. */
const LEAST_ALIKENESS = 0.3;
/** What a clear clap elsewhere takes from the sum that tells this piece from another. */
const CONTRADICTED = 3.5;

/** A place at which a take's notes fit the guide's. */
export interface Music {
  /** The take's time of session time zero, s. */
  readonly leadSec: number;
  readonly testimony: Testimony;
  readonly slopePpm: number;
  readonly slopeErrorPpm: number;
  /** The drift to start from: that of the notes where it is beyond doubt, else none. */
  readonly likelyDriftPpm: number;
  /** Height of the match in standard deviations of what chance gives. */
  readonly height: number;
  /** How its stretches agree; their lateness is against `assumed`. */
  readonly fit: OnsetFit;
  readonly assumed: Line;
  /** Their lateness against a clock without drift that shows evenLeadSec at session time zero. */
  readonly lateness: readonly Lateness[];
  readonly evenLeadSec: number;
  /** How much later than they are the notes seem against this guide, s. */
  readonly latenessSec: number;
  /** Whether notes were matched, and not beginnings alone or clicks. */
  readonly byNotes: boolean;
  /** Compared by when anything begins, not line by line. */
  readonly broad: boolean;
  /** What their slow attacks leave in doubt, s, one standard deviation; 0 where that was not looked at. */
  readonly attackDoubtSec: number;
  /** Where it fits as well some beats off: how sure it is once something else tells which of these places it is, 0 to 1. */
  readonly onceTold: number | undefined;
}

/**
 * The places at which a take's notes fit the guide's, best first; none where no match is beyond chance. Notes are
 * compared line by line; where that fails, as with a guide of clicks alone, by when anything begins. contradicts: whether
 * something else speaks against a lead; then only a match far beyond those of other pieces counts.
 */
export function findMusic(
  rises: Rises,
  guide: GuideMap,
  search: LagSearch,
  contradicts: (leadSec: number) => boolean = () => false,
): Music[] {
  const { byLine: lines, broad: byBeginning } = search.peaks(guide.rises, rises);
  const byLine = lines.slice(0, MOST_BY_LINE);
  const broad = (byLine[0]?.height ?? 0) < SURE_BY_LINE;
  const peaks = broad ? byBeginning : byLine;
  const sure = broad ? (guide.hasNotes ? SURE_BROAD_NOTES : SURE_BROAD) : SURE_BY_LINE;
  const highest = peaks[0]?.height ?? 0;
  if (highest < sure) return [];
  const likely = peaks.filter((peak) => peak.height >= Math.max(sure, ALIKE * highest));
  const matched = likely.flatMap((peak): Matched[] => {
    const beside = guide.hasNotes && !broad ? likely.filter((other) => isBeatsOff(peak, other)) : [];
    const isDoubted = beside.some((other) => !isSure(peak, other)) && !beside.some((other) => isSure(other, peak));
    const rivals = isDoubted ? peaks.filter((other) => !isBeatsOff(peak, other)) : peaks;
    const music = fitMusic(rises, guide, peak, broad, trustOf(peak, rivals, byBeginning, sure));
    if (!music) return [];
    if (!guide.hasNotes) return [{ peak, music, isDoubted, alikeness: 1 }];
    const against = contradicts(music.leadSec) ? CONTRADICTED : 0;
    return [{ peak, music, isDoubted, alikeness: alikenessOf(music.fit, peak, peaks, byBeginning, against) }];
  });
  return matched.flatMap(({ peak, music, isDoubted, alikeness: own }) => {
    // A piece that is this one at one place is so some beats off.
    const beside = isDoubted ? matched.filter((other) => isBeatsOff(peak, other.peak)) : [];
    const alikeness = beside.reduce((most, other) => Math.max(most, other.alikeness), own);
    if (alikeness < LEAST_ALIKENESS) return [];
    const trust = music.testimony.trust * alikeness;
    return [isDoubted ? { ...trusted(music, Math.min(MOST_DOUBTED, trust)), onceTold: trust } : trusted(music, trust)];
  });
}

/** A place that was fitted: whether it may be some beats off, and how surely the piece is this one by what matches there. */
interface Matched {
  readonly peak: LagPeak;
  readonly music: Music;
  readonly isDoubted: boolean;
  readonly alikeness: number;
}

function isBeatsOff(one: LagPeak, other: LagPeak): boolean {
  const apartSec = Math.abs(one.lagSec - other.lagSec);
  return apartSec > SAME_PLACE_SEC && apartSec < BEATS_SEC;
}

function isSure(one: LagPeak, other: LagPeak): boolean {
  return one.height >= SURE_LEAD * other.height;
}

function trusted(music: Music, trust: number): Music {
  return { ...music, testimony: { ...music.testimony, trust } };
}

/**
 * The place at which the notes fit best; where several fit alike, as against a guide of clicks alone or of slow notes, the one
 * under which a clap answers the cue. A place that may be a beat off is believed where a clap answers under it alone.
 * answerTo: how well a clap answers under a place, 0 to 1.
 */
export function likeliestMusic(found: readonly Music[], answerTo: (music: Music) => number): Music | undefined {
  const rated = found.map((music) => ({ music, answer: answerTo(music) }));
  const [first, ...rest] = rated;
  if (first === undefined) return undefined;
  const scoreOf = ({ music, answer }: typeof first): number => music.height * (0.3 + answer);
  const best = rest.reduce((most, one) => (scoreOf(one) > scoreOf(most) ? one : most), first);
  const { music, answer } = best;
  if (music.onceTold === undefined || answer === 0) return music;
  const isOnlyOne = rated.every((one) => one === best || one.answer < LEAST_SHARE * answer);
  return trusted(music, isOnlyOne && answer >= LEAST_ANSWER ? music.onceTold : 0);
}

function fitMusic(rises: Rises, guide: GuideMap, peak: LagPeak, broad: boolean, trust: number): Music | undefined {
  const rough = fitOnsets(guide.rises, rises, peak.lagSec, 0, broad);
  if (!rough) return undefined;
  const drift = Math.abs(rough.slopePpm) > 3 * rough.slopeErrorPpm ? rough.slopePpm : 0;
  const nearer = peak.lagSec + rough.laterSec - drift * 1e-6 * rough.atSec;
  const again = fitOnsets(guide.rises, rises, nearer, drift, broad);
  const fine = again ?? rough;
  const assumed = again === undefined ? { leadSec: peak.lagSec, driftPpm: 0 } : { leadSec: nearer, driftPpm: drift };
  // Lines that fit many places alike are those of clicks, not of notes.
  const byNotes = !broad && trust >= LEAST_NOTE_TRUST;
  return testify(fine, { assumed, byNotes, broad, trust, height: peak.height, attackDoubtSec: 0, onceTold: undefined });
}

function testify(
  fit: OnsetFit,
  match: Pick<Music, 'assumed' | 'byNotes' | 'broad' | 'height' | 'attackDoubtSec' | 'onceTold'> & {
    readonly trust: number;
  },
): Music {
  const { assumed, byNotes, broad, trust, attackDoubtSec } = match;
  const lateness = byNotes ? NOTE_LATENESS_SEC : CLICK_LATENESS_SEC;
  const latenessSpread = byNotes ? NOTE_LATENESS_SPREAD_SEC : CLICK_LATENESS_SPREAD_SEC;
  const takeSec = takeSecOn(assumed, fit.atSec) + fit.laterSec - lateness;
  const spanSec = Math.max(4, 4 * fit.stretches);
  const slopeErrorPpm = Math.hypot(fit.slopeErrorPpm, (WANDER_SEC / spanSec) * 1e6);
  const slopePpm = assumed.driftPpm + fit.slopePpm;
  const uncertaintySec = Math.hypot(OWN_SCATTER * fit.errorSec, PLAYER_SPREAD_SEC, latenessSpread);
  const isClock = Math.abs(slopePpm) < MOST_DRIFT_PPM;
  const told = isClock && (slopeErrorPpm < USEFUL_DRIFT_PPM || Math.abs(slopePpm) > SURE_DRIFT * slopeErrorPpm);
  const testimony: Testimony = {
    kind: 'onsets',
    atSec: fit.atSec,
    takeSec,
    uncertaintySec,
    ...(attackDoubtSec > 0 ? { doubtSec: attackDoubtSec } : {}),
    ...(told ? { driftPpm: slopePpm, driftUncertaintyPpm: slopeErrorPpm } : {}),
    trust,
    note:
      (broad
        ? 'The notes begin with the clicks of the guide; '
        : 'The beginnings of the notes match those of the guide; ') +
      `their mean is good to about ${asMs(Math.hypot(uncertaintySec, attackDoubtSec))}.` +
      (attackDoubtSec > PLAYER_SPREAD_SEC
        ? ' They begin slowly, so that it is not sure when they are heard to begin.'
        : '') +
      (told ? '' : ' The piece is too short for the notes alone to tell the drift.'),
  };
  const likelyDriftPpm = isClock && Math.abs(slopePpm) > 2.5 * slopeErrorPpm ? slopePpm : 0;
  const leadSec = takeSec - (1 + likelyDriftPpm * 1e-6) * fit.atSec;
  return {
    ...match,
    ...{ leadSec, testimony, slopePpm, slopeErrorPpm, likelyDriftPpm, fit },
    latenessSec: lateness,
    lateness: againstEven(fit, assumed),
    evenLeadSec: assumed.leadSec,
  };
}

function againstEven(fit: OnsetFit, assumed: Line): Lateness[] {
  return fit.along.map((one) => ({ ...one, laterSec: one.laterSec + one.atSec * assumed.driftPpm * 1e-6 }));
}

/**
 * The music with what slow attacks leave in doubt. A note is heard to begin somewhere on its way to its greatest level, and
 * not all of that way after it was struck: a bow or a breath that needs 50 ms more than the guide's notes says as much less of
 * when the player meant the note (Vos and Rasch 1981, "The perceptual onset of musical tones", Perception and
 * Psychophysics 29: heard from some 6 to 15 dB below the greatest level; Gordon 1987, JASA 82, from memory). It is a doubt only: players play
 * ahead of slow attacks, so that their notes are no later for it, nor a clap by hand the better witness. levels: the take's.
 */
export function withAttackDoubt(music: Music, levels: Levels, guide: GuideMap): Music {
  if (!music.byNotes || guide.attackSec === undefined) return music;
  const speed = 1 + music.likelyDriftPpm * 1e-6;
  const own = attackSpan(
    levels,
    guide.beginningsSec.map((sec) => music.leadSec + speed * sec),
  );
  const longer = own === undefined ? UNSEEN_ATTACK_DOUBT_SEC : Math.abs(own - guide.attackSec) - QUICK_SEC;
  const attackDoubtSec = Math.max(0, Math.min(MOST_ATTACK_DOUBT_SEC, longer));
  return testify(music.fit, { ...music, attackDoubtSec, trust: music.testimony.trust });
}

/** What the music says once its clock's steps are taken out of its lateness: steps at indexes of stretches, s. */
export function straightened(music: Music, steps: readonly { readonly at: number; readonly stepSec: number }[]): Music {
  const along = music.fit.along.map((one, i) => {
    const bySec = steps.reduce((sum, step) => sum + (i >= step.at ? step.stepSec : 0), 0);
    return { ...one, laterSec: one.laterSec - bySec };
  });
  const line = robustLine(
    along.map((one) => one.atSec),
    along.map((one) => one.laterSec),
    along.map((one) => one.weight),
  );
  return line ? testify({ ...music.fit, ...line, along }, { ...music, trust: music.testimony.trust }) : music;
}

function trustOf(best: LagPeak, peaks: readonly LagPeak[], byBeginning: readonly LagPeak[], bar: number): number {
  const rival = peaks.find((peak) => Math.abs(peak.lagSec - best.lagSec) > SAME_PLACE_SEC);
  const lead = rival ? best.height / Math.max(rival.height, 1) : 3;
  const sure = 1 - Math.exp(-(best.height - bar + 1) / 4);
  const agreed = byBeginning.some((peak) => Math.abs(peak.lagSec - best.lagSec) < 0.1) ? 1 : 0.6;
  return Math.max(0, Math.min(0.97, agreed * sure * (1 - Math.exp(-(lead - 0.95) / 0.15))));
}

/**
 * How sure it is, 0 to 1, that a match is that of this piece and not of another one in the same style. Another piece can
 * match as high at some lag, but its stretches of 4 s then disagree about the lag, few of them match at all, other lags
 * match as well, and the beginnings taken together do not. Weights set on 34 takes against their own guide (least sum
 * 1.4) and 782 pairs of take and wrong guide (greatest sum 0.9).
 */
function alikenessOf(
  fit: OnsetFit,
  best: LagPeak,
  peaks: readonly LagPeak[],
  byBeginning: readonly LagPeak[],
  against: number,
): number {
  const rival = peaks.find((peak) => Math.abs(peak.lagSec - best.lagSec) > SAME_PLACE_SEC);
  const lead = rival ? best.height / Math.max(rival.height, 1) : 2;
  const together = byBeginning.find((peak) => Math.abs(peak.lagSec - best.lagSec) < 0.1)?.height ?? 0;
  // Two stretches always lie on a line: their scatter says nothing.
  const scattered = Math.max(0, Math.min(1, (fit.stretches - 2) / 3));
  const sum =
    Math.min(3, (best.height - 15) / 4) +
    scattered * Math.min(1.7, (0.011 - fit.errorSec) / 0.003) +
    Math.min(0.5, (together - 7) / 4) +
    Math.min(1, (lead - 1.1) / 0.1) -
    0.8 * Math.max(0, 5 - fit.stretches) -
    against;
  return 1 / (1 + Math.exp(-(sum - 1.05) / 0.15));
}
