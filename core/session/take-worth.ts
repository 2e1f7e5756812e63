import type { AstrayStretch } from '../pitch/astray.ts';
import { clockText } from '../signal/time.ts';
import type { Take, TakeMark } from './schema.ts';

/** What is known of one take of a voice, as far as it is known. Seconds and decibels. */
export interface TakeFigures {
  readonly takeId: string;
  /** Its clip can be read. */
  readonly isThere: boolean;
  readonly mark: TakeMark;
  /** Gated loudness of its music, LUFS. */
  readonly musicLufs: number | null;
  /** Level of its noise where nobody plays, dBFS. */
  readonly noiseDbfs: number | null;
  /** It should be cleaned and cannot be, since no silence of it serves. Left out: no. */
  readonly isUncleaned?: boolean;
  readonly clippedSpots: number;
  readonly clippedSec: number;
  /** How long its music is, s. */
  readonly musicSec: number | null;
  /** Where its music begins, session time, s. */
  readonly musicFromSec: number | null;
  /** How sure its place is, 0 to 1; null where it has not been placed. */
  readonly confidence: number | null;
  /** Its place is a question to the player. */
  readonly asks: boolean;
  /** How far its notes scatter in time, ms; null where that was not measured. */
  readonly scatterMs: number | null;
  /** How far its notes spread in pitch about their own centre, cents; null where that was not measured. */
  readonly spreadCents: number | null;
  /** Why its pitch cannot be measured, a sentence; null or absent where it can, and where that is not known. */
  readonly noPitch?: string | null;
  /** Stretches that lie late or early as after a wrong entry, or were left out. Absent: none, or not looked for. */
  readonly astray?: readonly AstrayStretch[];
}

/** What speaks against a take, and how much. */
export interface TakeFlaw {
  readonly kind: 'clipped' | 'noisy' | 'uncleaned' | 'short' | 'unsure' | 'loose' | 'untuned' | 'astray' | 'missing';
  /** For comparing: 1 is what most players would call a flaw, 3 spoils a take. */
  readonly weight: number;
  /** "clipped in 3 spots" */
  readonly words: string;
}

/** One take as the sheet judges it. */
export interface TakeWorth {
  readonly takeId: string;
  readonly flaws: readonly TakeFlaw[];
  /** Sum of its flaws, 0 is best; Infinity for a take that cannot be used or that the player ruled out. */
  readonly cost: number;
}

/** The take that is proposed, and why, in one sentence. */
export interface TakeProposal {
  readonly takeId: string;
  readonly reason: string;
}

/** Music this far over its noise leaves nothing to wish, dB; each 8 dB less is a flaw's worth. */
const QUIET_ENOUGH_DB = 35;
const NOISE_STEP_DB = 8;
/** Takes of one voice that differ by less of their length than this are equally long. */
const SAME_LENGTH = 0.02;
/** What a take loses that keeps all of its noise, however much that is: as much as 8 dB too much of it. Chosen. */
const UNCLEANED = 1;
const SURE = 0.8;
/**
 * Scatter that good players have, and by how much more is a flaw, ms. Onsets in good ensembles spread by 30 to 50 ms (Rasch 1979, see
 * timingThresholds); measured with it is what the other voices and the finding of beginnings scatter.
 */
const TIGHT_MS = 30;
const LOOSE_STEP_MS = 15;
/** Spread of pitch that good players have (see pitchThresholds), and by how much more is a flaw, cents. */
const TUNED_CENTS = 12;
const UNTUNED_STEP_CENTS = 10;
/** A stretch that lies elsewhere: a flaw, and one more for each sixth of the notes that it holds. Chosen. */
const ASTRAY = 1;
const ASTRAY_SHARE = 1 / 6;
/** Takes whose costs differ by less are equally good. */
const TIE = 0.3;

/** A clap may be cut off without harm: what is so near to it does not count, s. */
const NEAR_CLAP_SEC = 0.4;

/** Clipped spots that are not the clap's. clapSec: where the clap is, take time; undefined where none is known. */
export function spotsBesideClap<Spot extends { readonly fromSec: number }>(
  spots: readonly Spot[],
  clapSec: number | undefined,
): Spot[] {
  return spots.filter(({ fromSec }) => clapSec === undefined || Math.abs(fromSec - clapSec) > NEAR_CLAP_SEC);
}

/** Where the clap of a take is by its evidence, take time, s; undefined where none was taken. */
export function clapSecOf(take: Pick<Take, 'placement'>): number | undefined {
  return take.placement?.evidence.find((one) => one.kind === 'clap' && one.accepted)?.takeSec;
}

/** Judges each of the takes of one voice, in their order. */
export function judgeTakes(takes: readonly TakeFigures[]): TakeWorth[] {
  const longest = Math.max(0, ...takes.map(({ musicSec }) => musicSec ?? 0));
  return takes.map((take) => {
    const flaws = flawsOf(take, longest);
    const isOut = !take.isThere || take.mark === 'no' || take.musicLufs === null;
    const cost = flaws.reduce((sum, { weight }) => sum + weight, 0);
    return { takeId: take.takeId, flaws, cost: isOut ? Number.POSITIVE_INFINITY : cost };
  });
}

function flawsOf(take: TakeFigures, longestSec: number): TakeFlaw[] {
  const flaws: TakeFlaw[] = [];
  const { clippedSpots, clippedSec, musicLufs, noiseDbfs, musicSec, confidence, scatterMs, spreadCents } = take;
  if (clippedSpots > 0) {
    const weight = Math.min(3, 0.7 + 0.1 * clippedSpots + clippedSec);
    flaws.push({ kind: 'clipped', weight, words: `clipped in ${counted(clippedSpots, 'spot')}` });
  }
  if (musicLufs !== null && noiseDbfs !== null) {
    const aboveDb = musicLufs - noiseDbfs;
    const weight = Math.min(4, Math.max(0, (QUIET_ENOUGH_DB - aboveDb) / NOISE_STEP_DB));
    if (weight > 0.2) {
      const only = weight >= 1 ? 'only ' : '';
      flaws.push({ kind: 'noisy', weight, words: `noise ${only}${aboveDb.toFixed(0)} dB below the music` });
    }
  }
  if (take.isUncleaned === true) {
    flaws.push({ kind: 'uncleaned', weight: UNCLEANED, words: 'not cleaned, its noise not known' });
  }
  if (musicSec !== null && longestSec > 0 && musicSec < longestSec * (1 - SAME_LENGTH)) {
    const missing = longestSec - musicSec;
    const weight = Math.min(3, 0.6 + (10 * missing) / longestSec);
    flaws.push({ kind: 'short', weight, words: `${missing.toFixed(0)} s shorter than the longest take` });
  }
  if (take.asks) flaws.push({ kind: 'unsure', weight: 1.5, words: 'its place in time is a question' });
  else if (confidence !== null && confidence < SURE) {
    flaws.push({ kind: 'unsure', weight: 1.5 * (SURE - confidence), words: 'its place in time is less sure' });
  }
  if (scatterMs !== null && scatterMs > TIGHT_MS) {
    const weight = Math.min(3, (scatterMs - TIGHT_MS) / LOOSE_STEP_MS);
    if (weight > 0.2) flaws.push({ kind: 'loose', weight, words: `its notes scatter by ${scatterMs.toFixed(0)} ms` });
  }
  flaws.push(...(take.astray ?? []).map(astrayFlaw));
  if (spreadCents !== null && spreadCents > TUNED_CENTS) {
    const weight = Math.min(3, (spreadCents - TUNED_CENTS) / UNTUNED_STEP_CENTS);
    if (weight > 0.2) {
      flaws.push({ kind: 'untuned', weight, words: `its notes spread by ${spreadCents.toFixed(0)} cents in pitch` });
    }
  }
  return flaws;
}

function astrayFlaw({ bars, fromSec, toSec, lateSec, share }: AstrayStretch): TakeFlaw {
  const isOne = bars !== null && bars[0] === bars[1];
  const where =
    bars === null
      ? `what belongs at ${clockText(fromSec)} to ${clockText(toSec)}`
      : isOne
        ? `bar ${bars[0]}`
        : `bars ${bars[0]} to ${bars[1]}`;
  const weight = Math.min(3, ASTRAY + share / ASTRAY_SHARE);
  if (lateSec === null) return { kind: 'missing', weight, words: `most notes of ${where} are not heard` };
  const lies = `${where} ${bars === null || isOne ? 'lies' : 'lie'}`;
  const words = `${lies} about ${Math.abs(lateSec).toFixed(1)} s ${lateSec > 0 ? 'late' : 'early'}`;
  return { kind: 'astray', weight, words };
}

/**
 * The best of several takes of a voice; null for fewer than two, and where none can be used. What the player marked best
 * is the best; a take marked good wins where it is as good as another. takes: as given to judgeTakes; names in their order.
 */
export function proposeTake(
  takes: readonly TakeFigures[],
  worths: readonly TakeWorth[],
  names: readonly string[],
): TakeProposal | null {
  if (takes.length < 2) return null;
  const order = takes
    .map((take, index) => ({
      take,
      worth: worths[index]!,
      name: names[index] ?? take.takeId,
      rank: rankOf(take),
      at: index,
    }))
    .filter(({ worth }) => Number.isFinite(worth.cost))
    .sort((one, other) => one.rank - other.rank || one.worth.cost - other.worth.cost);
  const best = order.find(({ take }) => take.mark === 'best') ?? bestOf(order);
  if (best === undefined) return null;
  const { takeId } = best.take;
  if (best.take.mark === 'best') return { takeId, reason: 'You marked it the best.' };
  const others = order.filter((one) => one !== best);
  if (others.length === 0) return { takeId, reason: 'It is the only one that can be used.' };
  return { takeId, reason: reasonFor(best, others) };
}

interface Ranked {
  readonly take: TakeFigures;
  readonly worth: TakeWorth;
  readonly name: string;
  readonly rank: number;
  /** Its place among the takes of its voice. */
  readonly at: number;
}

function rankOf({ mark }: TakeFigures): number {
  return mark === 'best' ? 0 : 1;
}

/** The least flawed; among equals one marked good, then the first. */
function bestOf(order: readonly Ranked[]): Ranked | undefined {
  const least = order[0];
  if (least === undefined) return undefined;
  const equal = order.filter((one) => one.worth.cost - least.worth.cost < TIE);
  const [first] = equal.toSorted((one, other) => one.at - other.at);
  return equal.find(({ take }) => take.mark === 'good') ?? first;
}

function reasonFor(best: Ranked, others: readonly Ranked[]): string {
  const { flaws } = best.worth;
  const weightOf = (one: Ranked, kind: TakeFlaw['kind']): number =>
    one.worth.flaws.find((flaw) => flaw.kind === kind)?.weight ?? 0;
  const against = others.flatMap((other) => {
    const worst = other.worth.flaws
      .map((flaw) => ({ flaw, more: flaw.weight - weightOf(best, flaw.kind) }))
      .sort((one, two) => two.more - one.more)[0];
    return worst === undefined || worst.more < 0.2 ? [] : [`${other.name} is ${asPredicate(worst.flaw)}`];
  });
  if (against.length === 0) {
    return best.take.mark === 'good' ? 'As good as the others, and you marked it good.' : 'The takes are equally good.';
  }
  const own =
    flaws.length === 0
      ? 'Nothing speaks against it'
      : `Least speaks against it (${flaws.map((one) => one.words).join(', ')})`;
  return `${own}; ${against.slice(0, 3).join('; ')}.`;
}

function asPredicate({ kind, words }: TakeFlaw): string {
  if (kind === 'noisy') return `noisier (${words})`;
  if (kind === 'unsure') return 'less sure in time';
  if (kind === 'loose') return `looser (${words})`;
  if (kind === 'astray') return `astray (${words})`;
  if (kind === 'missing') return `incomplete (${words})`;
  if (kind === 'untuned') return `less in tune (${words})`;
  return words;
}

function counted(count: number, what: string): string {
  return `${count} ${what}${count === 1 ? '' : 's'}`;
}
