import type { Sound } from '../signal/sound.ts';
import { type ClapSound, findClapSounds, locateAttack } from './clap.ts';
import type { LagPeak, LagSearch } from './lag-search.ts';
import { musicStart } from './music-start.ts';
import { fitOnsets } from './onset-fit.ts';
import { asClock, asMs } from './sentences.ts';
import { type StandingClap, standingClaps } from './standing-claps.ts';
import type { Rises, TraceSource } from './trace.ts';
import { RARE_DRIFT_PPM, weigh } from './weigh.ts';
import { ATTACK_ERROR_SEC, CLAP_SPREAD_SEC } from './with-guide.ts';
import type { Placement, Testimony } from './witness.ts';

/** A take that was listened to. */
export interface HeardTake {
  readonly id: string;
  readonly sound: Sound;
  readonly trace: TraceSource;
}

/** The attacks of two instruments differ by this in what can be heard of their beginning, s (measured: to 50 ms). */
const MUTUAL_SPREAD_SEC = 0.025;
/** Two takes of one voice: only the player's two means differ, s. */
const SAME_VOICE_SPREAD_SEC = 0.008;
/** A match of two takes' note beginnings this high is beyond chance. */
const SURE_HEIGHT = 8;
const MARKS_APART_SEC = 45;

/** Notes that begin together so well, as a share of the best match, bear out a pair of claps. */
const LEAST_TOGETHER = 0.4;
/** What is left of the trust in a lone pair of claps when the voices do not begin at the same time. */
const LATE_ENTRY = 0.6;

interface Candidate {
  readonly take: HeardTake;
  readonly claps: readonly StandingClap[];
  readonly musicSec: number | undefined;
}

/** Not all voices begin at once, so that the time from clap to music agrees only roughly, s. */
const ENTRY_SPREAD_SEC = 0.6;

/**
 * Places takes against one another by their claps and by notes that begin together. Session time zero is where the
 * earliest placed take begins. A take without a clap is a question; its best guess comes from its notes.
 */
export function placeWithoutGuide(
  takes: readonly HeardTake[],
  search: LagSearch,
  onPlaced: () => void = () => {},
): Map<string, Placement> {
  const candidates = takes.map((take) => {
    const levels = take.trace.levels();
    const musicSec = musicStart(levels);
    return { take, claps: standingClaps(findClapSounds(levels), musicSec), musicSec };
  });
  const reference = chooseReference(candidates);
  const placements = new Map<string, Placement>();
  if (!reference) return placements;
  const rises = reference.take.trace.rises();
  for (const candidate of candidates) {
    const placement =
      candidate === reference
        ? placeReference(reference, candidates)
        : placeAgainst(reference, rises, candidate, search);
    placements.set(candidate.take.id, placement);
    onPlaced();
  }
  return shiftToZero(placements);
}

/** The take whose clap agrees best with the claps of the others; a lone take is its own. */
function chooseReference(candidates: readonly Candidate[]): Candidate | undefined {
  let best: Candidate | undefined;
  let most = -1;
  for (const candidate of candidates) {
    let sum = 0.001 * (candidate.claps[0]?.standing ?? 0);
    for (const other of candidates) if (other !== candidate) sum += agreement(candidate, other);
    if (sum > most) {
      most = sum;
      best = candidate;
    }
  }
  return best;
}

/** How well the best pair of claps of two takes agrees with where their music begins, 0 to 1. */
function agreement(a: Candidate, b: Candidate): number {
  let best = 0;
  for (const theirs of a.claps) {
    for (const ours of b.claps) {
      const entry = entryAgreement(a, b, ours.atSec - theirs.atSec);
      best = Math.max(best, theirs.standing * ours.standing * entry);
    }
  }
  return best;
}

const HINT = 'Please say where this take belongs, give the guide, or clap at the start of the take.';
const NO_CLAP = `There is no guide, and no clap was found in this take. ${HINT}`;

/** Why a take's clap does not place it, in a true sentence. */
function clapQuestion(clap: ClapSound | undefined, alone: boolean): string {
  if (!clap) return NO_CLAP;
  const doubt = alone
    ? 'may be the clap, but no other take confirms it'
    : 'may be the clap, but it is not sure that it is the clap of the other takes';
  return `There is no guide, and the sharp sound at ${asClock(clap.atSec)} ${doubt}. ${HINT}`;
}

function placeReference(reference: Candidate, candidates: readonly Candidate[]): Placement {
  const clap = markOf(reference, candidates);
  // The others are laid against it, so that it lies at zero by definition.
  const best = { offsetSec: 0, driftPpm: 0, uncertaintySec: 0 };
  if (!clap) return { kind: 'question', best, confidence: 0, reason: NO_CLAP, evidence: [] };
  const takeSec = locateAttack(reference.take.sound, clap.atSec);
  const note = `The clap at ${asClock(takeSec)} of this take is the mark the other takes are laid against.`;
  const testimony: Testimony = {
    kind: 'clap',
    atSec: takeSec,
    takeSec,
    uncertaintySec: ATTACK_ERROR_SEC,
    // Alone, nothing tells a clap from a knock that sounds like one.
    trust: Math.min(0.95, clap.likeness * (candidates.length === 1 ? 0.7 : 1)),
    note,
  };
  return weigh([testimony], () => clapQuestion(clap, candidates.length === 1));
}

/** The reference's clap that the most other takes agree with. */
function markOf(reference: Candidate, candidates: readonly Candidate[]): StandingClap | undefined {
  const votes = (clap: StandingClap): number => {
    let sum = 0.001 * clap.standing;
    for (const other of candidates) {
      if (other !== reference) sum += agreement({ ...reference, claps: [clap] }, other);
    }
    return sum;
  };
  return [...reference.claps].sort((a, b) => votes(b) - votes(a))[0];
}

/** rises: the reference's. */
function placeAgainst(reference: Candidate, rises: Rises, candidate: Candidate, search: LagSearch): Placement {
  const own = candidate.take.trace.rises();
  const mutual = mutualPeaks(search, rises, own);
  const { peaks } = mutual;
  const claps = pairClaps(reference, candidate, peaks);
  const start = claps[0] ? claps[0].takeSec - claps[0].atSec : peaks[0]?.lagSec;
  const testimonies: Testimony[] = [...claps];
  if (start !== undefined) {
    const notes = mutualNotes(rises, own, start, mutual);
    if (notes) testimonies.push(notes);
  }
  const reason = clapQuestion(candidate.claps[0], false);
  const placement = weigh(testimonies, () => reason);
  if (placement.kind === 'placed' && claps.length === 0) {
    const { offsetSec, driftPpm, uncertaintySec } = placement;
    const confidence = Math.min(0.45, placement.confidence);
    const best = { offsetSec, driftPpm, uncertaintySec };
    return { kind: 'question', best, confidence, reason, evidence: placement.evidence };
  }
  return placement;
}

interface Mutual {
  readonly peaks: readonly LagPeak[];
  /** Both play the same notes. */
  readonly sameVoice: boolean;
}

function mutualPeaks(search: LagSearch, reference: Rises, take: Rises): Mutual {
  const { byLine: byBand, broad } = search.peaks(reference, take);
  const sameVoice = (byBand[0]?.height ?? 0) > Math.max(12, broad[0]?.height ?? 0);
  return { peaks: sameVoice ? byBand : broad, sameVoice };
}

/** Height of the mutual correlation near a lag, 0 when none of the peaks is there. */
function support(peaks: readonly LagPeak[], lagSec: number): number {
  return peaks.find((peak) => Math.abs(peak.lagSec - lagSec) < 0.08)?.height ?? 0;
}

function pairClaps(reference: Candidate, candidate: Candidate, peaks: readonly LagPeak[]): Testimony[] {
  const pairs: { ours: StandingClap; theirs: StandingClap; score: number }[] = [];
  const highest = Math.max(6, peaks[0]?.height ?? 0);
  for (const theirs of reference.claps) {
    for (const ours of candidate.claps) {
      const lagSec = ours.atSec - theirs.atSec;
      const agreed = 0.4 + 0.6 * (support(peaks, lagSec) / highest);
      const entry = 0.15 + 0.85 * entryAgreement(reference, candidate, lagSec);
      pairs.push({ ours, theirs, score: ours.standing * theirs.standing * agreed * entry });
    }
  }
  pairs.sort((a, b) => b.score - a.score);
  const best = pairs[0];
  if (!best) return [];
  const lagSec = best.ours.atSec - best.theirs.atSec;
  const rival = pairs.find((pair) => Math.abs(pair.ours.atSec - pair.theirs.atSec - lagSec) > 0.1);
  const clear = best.score / (best.score + (rival?.score ?? 0));
  const alone = rival === undefined && support(peaks, lagSec) >= LEAST_TOGETHER * highest;
  // Where no other pair of sounds is in question, a voice may come in late, as in a canon.
  const sure = alone ? best.ours.standing * best.theirs.standing * LATE_ENTRY : 0;
  const trust = Math.min(0.9, 1.25 * Math.sqrt(Math.max(best.score, sure)) * clear);
  const out = [pairTestimony(reference, candidate, best.ours, best.theirs, trust)];
  const second = pairs.find(
    (pair) =>
      Math.abs(pair.theirs.atSec - best.theirs.atSec) > MARKS_APART_SEC &&
      Math.abs(pair.ours.atSec - pair.theirs.atSec - lagSec) <
        0.05 + 1.4e-6 * RARE_DRIFT_PPM * Math.abs(pair.theirs.atSec - best.theirs.atSec),
  );
  if (second) out.push(withDrift(out[0]!, pairTestimony(reference, candidate, second.ours, second.theirs, trust)));
  return out;
}

/** 1 when the music of both takes begins at the same time under a lag, falling to 0. */
function entryAgreement(reference: Candidate, candidate: Candidate, lagSec: number): number {
  if (reference.musicSec === undefined || candidate.musicSec === undefined) return 0.5;
  const apart = candidate.musicSec - reference.musicSec - lagSec;
  return Math.exp(-0.5 * (apart / ENTRY_SPREAD_SEC) ** 2);
}

function pairTestimony(
  reference: Candidate,
  candidate: Candidate,
  ours: ClapSound,
  theirs: ClapSound,
  trust: number,
): Testimony {
  const takeSec = locateAttack(candidate.take.sound, ours.atSec);
  const atSec = locateAttack(reference.take.sound, theirs.atSec);
  const uncertaintySec = Math.SQRT2 * Math.hypot(CLAP_SPREAD_SEC, ATTACK_ERROR_SEC);
  const note =
    `The clap at ${asClock(takeSec)} is laid on the clap at ${asClock(atSec)} of the take that serves as ` +
    `mark; two claps by hand agree to about ${asMs(uncertaintySec)}.`;
  return { kind: 'clap', atSec, takeSec, uncertaintySec, trust, note };
}

function withDrift(first: Testimony, second: Testimony): Testimony {
  const span = second.atSec - first.atSec;
  const driftPpm = ((second.takeSec - first.takeSec) / span - 1) * 1e6;
  const driftUncertaintyPpm = ((2 * ATTACK_ERROR_SEC) / Math.abs(span)) * 1e6;
  return { ...second, driftPpm, driftUncertaintyPpm, note: `${second.note} Two claps far apart tell the drift.` };
}

function mutualNotes(
  reference: Rises,
  take: Rises,
  startSec: number,
  { peaks, sameVoice }: Mutual,
): Testimony | undefined {
  const height = support(peaks, startSec);
  if (height < SURE_HEIGHT) return undefined;
  const fit = fitOnsets(reference, take, startSec, 0, !sameVoice);
  if (!fit || Math.abs(fit.laterSec) > 0.09) return undefined;
  const uncertaintySec = Math.hypot(fit.errorSec, sameVoice ? SAME_VOICE_SPREAD_SEC : MUTUAL_SPREAD_SEC);
  const first = peaks[0]!;
  const trust = Math.min(0.8, (1 - Math.exp(-(height - 6) / 6)) * (height / first.height));
  const note = `Its notes begin together with those of another take; their mean is good to about ${asMs(uncertaintySec)}.`;
  return {
    kind: 'mutual',
    atSec: fit.atSec,
    takeSec: startSec + fit.atSec + fit.laterSec,
    uncertaintySec,
    trust,
    note,
  };
}

/** Moves all placements so that the earliest take (placed, else guessed) begins at session time zero. */
function shiftToZero(placements: Map<string, Placement>): Map<string, Placement> {
  const all = [...placements.values()];
  const sure = all.flatMap((placement) => (placement.kind === 'placed' ? [placement.offsetSec] : []));
  const guessed = all.flatMap((placement) =>
    placement.kind === 'question' && placement.best ? [placement.best.offsetSec] : [],
  );
  const earliest = Math.min(...(sure.length > 0 ? sure : guessed));
  if (!Number.isFinite(earliest)) return placements;
  const shifted = new Map<string, Placement>();
  for (const [id, placement] of placements) shifted.set(id, shift(placement, earliest));
  return shifted;
}

function shift(placement: Placement, bySec: number): Placement {
  const evidence = placement.evidence.map((one) => ({
    ...one,
    atSec: one.atSec - bySec,
    offsetSec: one.offsetSec - bySec,
  }));
  if (placement.kind === 'placed') return { ...placement, offsetSec: placement.offsetSec - bySec, evidence };
  if (!placement.best) return { ...placement, evidence };
  return { ...placement, best: { ...placement.best, offsetSec: placement.best.offsetSec - bySec }, evidence };
}
