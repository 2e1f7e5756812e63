import type { DeskView, TakeFacts } from '../../../app/shell/contract/desk-view.ts';
import type { Take, TakeMark } from '../../../core/session/schema.ts';
import {
  judgeTakes,
  proposeTake,
  type TakeFigures,
  type TakeFlaw,
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
    isUncleaned: facts.clean.state === 'unfit',
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

/** One figure of a take, as the sheet shows it. */
export interface SheetFigure {
  readonly label: string;
  readonly words: string;
  /** What it speaks for where it is bad. */
  readonly flaws: readonly TakeFlaw['kind'][];
}

/** What is known of a take besides its peak: the same figures in the same order for each, also where one is not known. */
export function sheetFigures(take: Take, facts: TakeFacts): SheetFigure[] {
  const { clean, played, integratedLufs } = facts;
  return [
    { label: 'music', words: known(integratedLufs, 1, 'LUFS'), flaws: [] },
    { label: 'noise', words: noiseWords(clean), flaws: ['noisy', 'uncleaned'] },
    { label: 'place', words: placeWords(take), flaws: ['unsure'] },
    { label: 'timing', words: known(played?.scatterMs, 0, 'ms', 'scatter '), flaws: ['loose'] },
    { label: 'pitch', words: known(played?.spreadCents, 0, 'cents', 'spread '), flaws: ['untuned'] },
  ];
}

function known(value: number | null | undefined, digits: number, unit: string, before = ''): string {
  return value === null || value === undefined || !Number.isFinite(value)
    ? '–'
    : `${before}${figure(value, digits)} ${unit}`;
}

function noiseWords({ noise, state }: TakeFacts['clean']): string {
  return state === 'unfit' ? 'not known' : known(noise?.levelDbfs, 1, 'dBFS');
}

function placeWords({ placement }: Take): string {
  if (placement === null) return '–';
  if (placement.question !== null) return 'a question';
  const ms = 1000 * placement.uncertaintySec;
  return `within ${figure(ms, ms < 10 ? 1 : 0)} ms`;
}

/** Marks in words, in their order. */
export const markWords: Readonly<Record<TakeMark, string>> = {
  none: 'no mark',
  best: 'best',
  good: 'good',
  no: 'not this one',
};
