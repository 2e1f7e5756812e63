import type { DeskView, SpanView, TakeFacts } from '../../../app/shell/contract/desk-view.ts';
import type { Session, Take, TakeMark } from '../../../core/session/schema.ts';
import {
  clapSecOf,
  judgeTakes,
  proposeTake,
  spotsBesideClap,
  type TakeFigures,
  type TakeFlaw,
  type TakeProposal,
  type TakeWorth,
} from '../../../core/session/take-worth.ts';
import { SESSION_RATE_HZ } from '../../../core/signal/time.ts';
import { figure } from '../../parts/numbers.ts';

/** The takes of one voice, judged. */
export interface TakeSheet {
  readonly worths: ReadonlyMap<string, TakeWorth>;
  readonly best: TakeProposal | null;
}

/** Fewer takes do not tell where the piece lies. */
const LEAST_TAKES = 3;

/**
 * Where the piece lies, session time: as the guide has it, else by the middle one of all takes' beginnings and ends. Outside of it sounds
 * that are not the piece (leakage of the guide's tones and clicks) would make the one take longer than the other. null: not known.
 */
export function pieceSpan(session: Pick<Session, 'guide' | 'takes'>, facts: DeskView['takes']): SpanView | null {
  const plan = session.guide?.plan;
  if (plan != null) {
    return { fromSec: plan.musicFrame / SESSION_RATE_HZ, toSec: plan.musicEndFrame / SESSION_RATE_HZ };
  }
  const spans = session.takes.flatMap(({ id, placement }) =>
    placement?.question === null ? (facts[id]?.music ?? []) : [],
  );
  if (spans.length < LEAST_TAKES) return null;
  return { fromSec: middle(spans.map(({ fromSec }) => fromSec)), toSec: middle(spans.map(({ toSec }) => toSec)) };
}

function middle(values: readonly number[]): number {
  return values.toSorted((one, other) => one - other)[values.length >> 1]!;
}

/** How much of the piece a take's music fills, s; null where it has none that is known. */
function musicSecOf(music: SpanView | null, piece: SpanView | null): number | null {
  if (music === null) return null;
  if (piece === null) return music.toSec - music.fromSec;
  const fromSec = Math.max(music.fromSec, piece.fromSec);
  return Math.max(0, Math.min(music.toSec, piece.toSec) - fromSec);
}

/** Judges the takes of a voice; null while one of them is not measured yet, and for a single one. piece: see pieceSpan. */
export function sheetOf(takes: readonly Take[], facts: DeskView['takes'], piece: SpanView | null): TakeSheet | null {
  if (takes.length < 2) return null;
  const known = takes.map((take) => facts[take.id]);
  const isWaiting = known.some(
    (one) => one === undefined || one.state === 'waiting' || one.state === 'reading' || isUnmeasured(one),
  );
  if (isWaiting) return null;
  const figures = takes.map((take, index) => figuresOf(take, known[index]!, piece));
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

function figuresOf(take: Take, facts: TakeFacts, piece: SpanView | null): TakeFigures {
  const { placement } = take;
  const spots = spotsBesideClap(facts.clipped, clapSecOf(take));
  return {
    takeId: take.id,
    isThere: facts.state === 'ready',
    mark: take.mark,
    musicLufs: facts.integratedLufs,
    noiseDbfs: facts.clean.noise?.levelDbfs ?? null,
    isUncleaned: facts.clean.state === 'unfit',
    clippedSpots: spots.length,
    clippedSec: spots.reduce((sum, { fromSec, toSec }) => sum + toSec - fromSec, 0),
    musicSec: musicSecOf(facts.music, piece),
    musicFromSec: facts.music?.fromSec ?? null,
    confidence: placement?.confidence ?? null,
    asks: placement !== null && placement.question !== null,
    scatterMs: facts.played?.scatterMs ?? null,
    spreadCents: facts.played?.spreadCents ?? null,
    astray: facts.played?.astray ?? [],
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
    { label: 'timing', words: known(played?.scatterMs, 0, 'ms', 'scatter '), flaws: ['loose', 'astray', 'missing'] },
    {
      label: 'pitch',
      words: played?.noPitch == null ? known(played?.spreadCents, 0, 'cents', 'spread ') : 'not measured',
      flaws: ['untuned'],
    },
  ];
}

function known(value: number | null | undefined, digits: number, unit: string, before = ''): string {
  return value === null || value === undefined || !Number.isFinite(value)
    ? '–'
    : withUnit(`${before}${figure(value, digits)}`, unit);
}

/** "spread 1 cent" */
function withUnit(words: string, unit: string): string {
  return `${words} ${unit === 'cents' && /(^| )1$/.test(words) ? 'cent' : unit}`;
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
