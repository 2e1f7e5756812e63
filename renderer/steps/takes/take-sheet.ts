import type { DeskView, TakeFacts } from '../../../app/shell/contract/desk-view.ts';
import type { Take, TakeMark } from '../../../core/session/schema.ts';
import {
  judgeTakes,
  proposeTake,
  type TakeFigures,
  type TakeProposal,
  type TakeWorth,
} from '../../../core/session/take-worth.ts';
import { figure } from '../../parts/numbers.ts';

/** The takes of one voice, judged. */
export interface TakeSheet {
  readonly worths: ReadonlyMap<string, TakeWorth>;
  readonly best: TakeProposal | null;
}

/** A clap may be cut off without harm: what is so near to it does not count, s. */
const NEAR_CLAP_SEC = 0.4;

/** Judges the takes of a voice; null while one of them is not measured yet, and for a single one. */
export function sheetOf(takes: readonly Take[], facts: DeskView['takes']): TakeSheet | null {
  if (takes.length < 2) return null;
  const known = takes.map((take) => facts[take.id]);
  const isWaiting = known.some(
    (one) => one === undefined || one.state === 'waiting' || one.state === 'reading' || isUnmeasured(one),
  );
  if (isWaiting) return null;
  const figures = takes.map((take, index) => figuresOf(take, known[index]!));
  const worths = judgeTakes(figures);
  const best = proposeTake(
    figures,
    worths,
    takes.map((take) => take.name),
  );
  return { worths: new Map(worths.map((worth) => [worth.takeId, worth])), best };
}

function isUnmeasured(facts: TakeFacts): boolean {
  return facts.state === 'ready' && (facts.clean.state === 'waiting' || facts.clean.state === 'working');
}

function figuresOf(take: Take, facts: TakeFacts): TakeFigures {
  const { placement } = take;
  const clapSec = placement?.evidence.find((one) => one.kind === 'clap' && one.accepted)?.takeSec;
  const spots = facts.clipped.filter(
    ({ fromSec }) => clapSec === undefined || Math.abs(fromSec - clapSec) > NEAR_CLAP_SEC,
  );
  return {
    takeId: take.id,
    isThere: facts.state === 'ready',
    mark: take.mark,
    musicLufs: facts.integratedLufs,
    noiseDbfs: facts.clean.noise?.levelDbfs ?? null,
    clippedSpots: spots.length,
    clippedSec: spots.reduce((sum, { fromSec, toSec }) => sum + toSec - fromSec, 0),
    musicSec: facts.music === null ? null : facts.music.toSec - facts.music.fromSec,
    musicFromSec: facts.music?.fromSec ?? null,
    confidence: placement?.confidence ?? null,
    asks: placement !== null && placement.question !== null,
    scatterMs: facts.played?.scatterMs ?? null,
    spreadCents: facts.played?.spreadCents ?? null,
  };
}

/** What is known of a take besides its peak, in one line: "music −25.1 LUFS, noise −47.6 dBFS, placed within 0.4 ms". */
export function figuresInWords(take: Take, facts: TakeFacts): string {
  const words = [`music ${figure(facts.integratedLufs)} LUFS`];
  const noise = facts.clean.noise?.levelDbfs;
  if (noise != null) words.push(`noise ${figure(noise)} dBFS`);
  if (take.placement !== null) {
    const ms = 1000 * take.placement.uncertaintySec;
    words.push(
      take.placement.question === null
        ? `placed within ${figure(ms, ms < 10 ? 1 : 0)} ms`
        : 'its place in time is a question',
    );
  }
  const { played } = facts;
  if (played?.scatterMs != null) words.push(`scatter ${figure(played.scatterMs, 0)} ms`);
  if (played?.spreadCents != null) words.push(`spread ${figure(played.spreadCents, 0)} cents`);
  return words.join(', ');
}

/** Marks in words, in their order. */
export const markWords: Readonly<Record<TakeMark, string>> = {
  none: 'no mark',
  best: 'best',
  good: 'good',
  no: 'not this one',
};
