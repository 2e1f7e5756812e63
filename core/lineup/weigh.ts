import type { Placement, Testimony, Witness } from './witness.ts';

/**
 * How far clocks of phones and players usually differ, ppm (one standard deviation): crystals are made to within
 * 20 ppm and both clocks have one.
 */
export const USUAL_DRIFT_PPM = 30;
/** Drifts up to this happen between some pairs of devices (published: 273 ppm); taken when the evidence is strong. */
export const RARE_DRIFT_PPM = 300;
/** Below this confidence a placement is a question. */
export const LEAST_CONFIDENCE = 0.5;
/**
 * Leakage that is trusted less may be the player's own notes where they match the guide's. Measured: 0.77 and more of 31 takes with
 * leakage, down to 62 dB below the playing, 0.53 to 0.70 of six without any.
 */
const SURE_BLEED = 0.75;
const MOST_WITNESSES = 10;
/** Standard deviations from no drift at which the rare prior takes over. */
const RARE_AT = 2.5;

/**
 * A drift told by people's notes and claps is taken this many standard deviations short of the likeliest, so that a take does
 * not come to lie worse than without any: it then lies between none and the true one. One far from the usual has a sure sign.
 */
const HELD_BACK = 2;

/** Whether it tells the drift by the sound itself, and not by what a player did. */
function isExact({ kind, driftPpm }: Testimony): boolean {
  return driftPpm !== undefined && (kind === 'bleed' || kind === 'clap');
}

interface Line {
  /** Take time of session time zero, s. */
  readonly lead: number;
  /** Take seconds gained a session second. */
  readonly drift: number;
  /** Standard deviation of the drift that is told. */
  readonly driftUncertainty: number;
  /** Variance of what speaks for the drift, and of the lead seen at `middle`. */
  readonly driftVariance: number;
  readonly levelVariance: number;
  readonly middle: number;
  /** Half the sum of squared normalised residuals, the prior's included. */
  readonly cost: number;
}

/**
 * The one place where witnesses are weighed.
 *
 * Every witness says: at session time t the take's clock showed T, give or take u; some also measure the drift. A
 * straight line through all of them (least squares, each by 1/u^2) with a prior that draws the drift towards zero is
 * sought for every choice of witnesses to believe; setting one aside costs the more the more it is trusted. The
 * choice with the least cost wins, so that one clap too many, or a player who clapped a beat late, does not bend the
 * placement. A drift is told only where the evidence at least halves the prior's variance. At most ten witnesses are
 * heard, the most trusted first.
 */
export function weigh(testimonies: readonly Testimony[], question: (confidence: number) => string): Placement {
  const heard = [...testimonies].sort((a, b) => b.trust - a.trust).slice(0, MOST_WITNESSES);
  if (heard.length === 0) return { kind: 'question', confidence: 0, reason: question(0), evidence: [] };
  let bestCost = Number.POSITIVE_INFINITY;
  let bestChoice = 0;
  for (let choice = 1; choice < 1 << heard.length; choice++) {
    const believed = heard.filter((_, i) => (choice >> i) & 1);
    let cost = fitLine(believed).cost;
    for (let i = 0; i < heard.length; i++) if (!((choice >> i) & 1)) cost += 2 + 6 * heard[i]!.trust;
    if (cost < bestCost) {
      bestCost = cost;
      bestChoice = choice;
    }
  }
  const believed = heard.filter((_, i) => (bestChoice >> i) & 1);
  const line = fitLine(believed);
  const evidence = heard.map((testimony, i) => asWitness(testimony, ((bestChoice >> i) & 1) === 1, believed));
  const confidence = confidenceOf(evidence);
  const offsetSec = -line.lead / (1 + line.drift);
  const driftPpm = line.drift * 1e6;
  const uncertaintySec = Math.hypot(placeErrorOf(believed, line), doubtOfBleed(believed, line));
  if (confidence < LEAST_CONFIDENCE) {
    const best = { offsetSec, driftPpm, uncertaintySec };
    return { kind: 'question', best, confidence, reason: question(confidence), evidence };
  }
  const driftUncertaintyPpm = line.driftUncertainty * 1e6;
  return { kind: 'placed', offsetSec, driftPpm, driftUncertaintyPpm, uncertaintySec, confidence, evidence };
}

function fitLine(believed: readonly Testimony[]): Line {
  const free = solve(believed, RARE_DRIFT_PPM, 0);
  const spread = Math.sqrt(free.driftVariance) * 1e6;
  const apart = Math.abs(free.drift) * 1e6;
  // Only evidence of the drift that is both exact and far from the usual earns the wide prior.
  return apart > RARE_AT * Math.hypot(spread, USUAL_DRIFT_PPM) ? free : solve(believed, USUAL_DRIFT_PPM, HELD_BACK);
}

function solve(believed: readonly Testimony[], priorPpm: number, heldBack: number): Line {
  let w = 0;
  let wt = 0;
  for (const one of believed) {
    const weight = 1 / one.uncertaintySec ** 2;
    w += weight;
    wt += weight * one.atSec;
  }
  const middle = wt / w;
  const priorVariance = (priorPpm * 1e-6) ** 2;
  let level = 0;
  let stt = 1 / priorVariance;
  let sty = 0;
  for (const one of believed) {
    const weight = 1 / one.uncertaintySec ** 2;
    level += (weight * (one.takeSec - one.atSec)) / w;
    stt += weight * (one.atSec - middle) ** 2;
    sty += weight * (one.atSec - middle) * (one.takeSec - one.atSec);
    if (one.driftPpm !== undefined && one.driftUncertaintyPpm !== undefined) {
      const driftWeight = 1 / (one.driftUncertaintyPpm * 1e-6) ** 2;
      stt += driftWeight;
      sty += driftWeight * one.driftPpm * 1e-6;
    }
  }
  const likely = sty / stt;
  const spread = 1 / Math.sqrt(stt);
  // Evidence that does not even halve the variance is no reason to stretch a take.
  const told = stt > 2 / priorVariance ? likely : 0;
  const drift = believed.some(isExact) ? told : Math.sign(told) * Math.max(0, Math.abs(told) - heldBack * spread);
  // What was held back lies on one side: 95 % of what may be true lies within twice this of what is told.
  const driftUncertainty = Math.max(spread, 0.5 * Math.abs(likely - drift) + 0.82 * spread);
  let cost = (0.5 * drift * drift) / priorVariance;
  for (const one of believed) {
    const apart = one.takeSec - one.atSec - level - drift * (one.atSec - middle);
    cost += 0.5 * (apart / one.uncertaintySec) ** 2;
    if (one.driftPpm !== undefined && one.driftUncertaintyPpm !== undefined) {
      cost += 0.5 * ((one.driftPpm - drift * 1e6) / one.driftUncertaintyPpm) ** 2;
    }
  }
  return {
    lead: level - drift * middle,
    drift,
    driftUncertainty,
    driftVariance: 1 / stt,
    levelVariance: 1 / w,
    middle,
    cost,
  };
}

/**
 * By how much more witnesses lie apart than their errors say, at least 1: the errors of their mean are then larger by that.
 * Source: Birge 1932, "The calculation of errors by the method of least squares", Physical Review 40. Not where the sound itself
 * tells the place: what players do is none of the clock's then.
 */
function disagreement(believed: readonly Testimony[], line: Line): number {
  if (believed.length < 2 || believed.some((one) => one.kind === 'bleed')) return 1;
  const apart = believed.map(({ atSec, takeSec }) => takeSec - atSec - line.lead - line.drift * atSec);
  const weights = believed.map((one) => 1 / wholeErrorOf(one) ** 2);
  const sum = (values: readonly number[]): number => values.reduce((total, value, i) => total + weights[i]! * value, 0);
  const mean = sum(apart) / sum(apart.map(() => 1));
  return Math.sqrt(Math.max(1, sum(apart.map((sec) => (sec - mean) ** 2)) / (believed.length - 1)));
}

/** How well witnesses know the place, s. */
function placeErrorOf(believed: readonly Testimony[], line: Line): number {
  return Math.hypot(Math.sqrt(line.levelVariance), doubtLeft(believed)) * disagreement(believed, line);
}

function wholeErrorOf({ uncertaintySec, doubtSec = 0 }: Testimony): number {
  return Math.hypot(uncertaintySec, doubtSec);
}

/** What doubts of the witnesses leave of doubt in their mean, s. */
function doubtLeft(believed: readonly Testimony[]): number {
  const weights = believed.map((one) => 1 / one.uncertaintySec ** 2);
  const total = weights.reduce((sum, weight) => sum + weight, 0);
  return Math.hypot(...believed.map((one, i) => (weights[i]! / total) * (one.doubtSec ?? 0)));
}

/** Whether what was taken for leakage may be the player's own notes, in a take whose notes match the guide's. */
export function mayBeNotes(bleed: Pick<Testimony, 'trust'>): boolean {
  return bleed.trust < SURE_BLEED;
}

/**
 * How far the place may lie off since what was taken for leakage is none, s: as far as it lies from where it would be without, and as far as
 * that place itself is unknown.
 */
function doubtOfBleed(believed: readonly Testimony[], line: Line): number {
  const bleed = believed.find((one) => one.kind === 'bleed');
  const others = believed.filter((one) => one !== bleed);
  if (bleed === undefined || !mayBeNotes(bleed) || !others.some((one) => one.kind === 'onsets')) return 0;
  const without = fitLine(others);
  const apartSec = without.lead - line.lead + (without.drift - line.drift) * bleed.atSec;
  return Math.hypot(apartSec, placeErrorOf(others, without));
}

function asWitness(testimony: Testimony, accepted: boolean, believed: readonly Testimony[]): Witness {
  const total = believed.reduce((sum, one) => sum + 1 / one.uncertaintySec ** 2, 0);
  const weight = accepted ? 1 / testimony.uncertaintySec ** 2 / total : 0;
  const note = accepted ? testimony.note : `${testimony.note} It disagrees with the rest and was set aside.`;
  const { doubtSec: _, ...told } = testimony;
  const offsetSec = testimony.atSec - testimony.takeSec;
  return { ...told, uncertaintySec: wholeErrorOf(testimony), offsetSec, weight, accepted, note };
}

/** Believed witnesses are wrong together only if each is; one that was set aside takes some of the certainty away. */
function confidenceOf(evidence: readonly Witness[]): number {
  let doubt = 1;
  let unease = 1;
  for (const one of evidence) {
    if (one.accepted) doubt *= 1 - one.trust;
    else unease *= 1 - 0.4 * one.trust;
  }
  return Math.max(0, Math.min(0.99, (1 - doubt) * unease));
}
