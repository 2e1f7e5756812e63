import type { Sound } from '../signal/sound.ts';
import { alongReference, bentReference } from './along-reference.ts';
import { type ClapSound, findClapSounds, locateAttack } from './clap.ts';
import { MarkBeginnings } from './fine-lateness.ts';
import type { NoteStep } from './follow-notes.ts';
import type { LagPeak, LagSearch } from './lag-search.ts';
import { musicStart } from './music-start.ts';
import { type MutualNotes, mutualNotes, mutualPeaks, stepsOfReference, support } from './mutual-notes.ts';
import { MOST_RESIDUAL_SEC } from './residual.ts';
import { asClock, asMs } from './sentences.ts';
import { type StandingClap, standingClaps } from './standing-claps.ts';
import type { TraceSource } from './trace.ts';
import { RARE_DRIFT_PPM, weigh } from './weigh.ts';
import { ATTACK_ERROR_SEC, CLAP_SPREAD_SEC } from './with-guide.ts';
import type { Placement, Testimony } from './witness.ts';

/** A take that was listened to. */
export interface HeardTake {
  readonly id: string;
  readonly sound: Sound;
  readonly trace: TraceSource;
}

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
  const mark = new MarkBeginnings(reference.take.sound, reference.take.trace.rises());
  const heard = new Map<Candidate, HeardAgainst>();
  for (const candidate of candidates) {
    if (candidate !== reference) heard.set(candidate, hearAgainst(reference, mark, candidate, search));
    onPlaced();
  }
  const notes = [...heard.values()].flatMap((one) => (one.claps.length > 0 && one.notes ? [one.notes] : []));
  const steps = stepsOfReference(reference.take.sound, notes);
  for (const candidate of candidates) {
    const against = heard.get(candidate);
    placements.set(
      candidate.take.id,
      against === undefined
        ? bentReference(placeReference(reference, candidates), reference.take.sound, steps)
        : placeAgainst(candidate, against, steps),
    );
  }
  return shiftToZero(toldAtMark(placements, reference.take.id));
}

/** How well takes are laid against the one that serves as mark, told once and there. */
function toldAtMark(placements: Map<string, Placement>, markId: string): Map<string, Placement> {
  const mark = placements.get(markId);
  const residuals = [...placements].flatMap(([id, one]) =>
    id !== markId && one.kind === 'placed' && (one.residualSec ?? 0) > MOST_RESIDUAL_SEC ? [one.residualSec!] : [],
  );
  if (mark?.kind !== 'placed' || residuals.length === 0) return placements;
  const others = residuals.length === 1 ? 'one of the other takes is' : `${residuals.length} of the other takes are`;
  const told =
    `There is no guide, so that ${others} laid against this one by claps and note beginnings alone, good to about ` +
    `${asMs(Math.max(...residuals))}. Listen to them together, and pin a moment of a take where it is off.`;
  const warning = mark.warning === undefined ? told : `${mark.warning} ${told}`;
  return placements.set(markId, { ...mark, warning });
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

/** What is heard of a take against the reference. */
interface HeardAgainst {
  readonly claps: readonly Testimony[];
  readonly notes: MutualNotes | undefined;
}

/** mark: the reference's beginnings. */
function hearAgainst(
  reference: Candidate,
  mark: MarkBeginnings,
  candidate: Candidate,
  search: LagSearch,
): HeardAgainst {
  const { sound, trace } = candidate.take;
  const own = { sound, rises: trace.rises() };
  const mutual = mutualPeaks(search, mark.rises, own.rises);
  const claps = pairClaps(reference, candidate, mutual.peaks);
  const start = claps[0] ? claps[0].takeSec - claps[0].atSec : mutual.peaks[0]?.lagSec;
  return { claps, notes: start === undefined ? undefined : mutualNotes(mark, own, start, mutual) };
}

function placeAgainst(candidate: Candidate, heard: HeardAgainst, referenceSteps: readonly NoteStep[]): Placement {
  const along = alongReference(candidate.take.sound, heard.notes, referenceSteps);
  const testimonies = along.straight(heard.claps);
  const reason = clapQuestion(candidate.claps[0], false);
  const placement = weigh(testimonies, () => reason);
  if (placement.kind === 'placed' && heard.claps.length === 0) {
    const { offsetSec, driftPpm, uncertaintySec } = placement;
    const confidence = Math.min(0.45, placement.confidence);
    const best = { offsetSec, driftPpm, uncertaintySec };
    return { kind: 'question', best, confidence, reason, evidence: placement.evidence };
  }
  return along.bend(placement);
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
  if (placement.kind === 'placed') {
    const trail = placement.trail?.map((point) => ({ ...point, atSec: Math.round((point.atSec - bySec) * 1e6) / 1e6 }));
    return {
      ...placement,
      offsetSec: placement.offsetSec - bySec,
      evidence,
      ...(trail === undefined ? {} : { trail }),
    };
  }
  if (!placement.best) return { ...placement, evidence };
  return { ...placement, best: { ...placement.best, offsetSec: placement.best.offsetSec - bySec }, evidence };
}
