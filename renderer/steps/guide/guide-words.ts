import type { GuideChoice } from '../../../app/shell/contract/guide-choice.ts';
import type { ScoreView } from '../../../app/shell/contract/guide-view.ts';
import { type GuidePlan, planGuide } from '../../../core/guide/guide-plan.ts';
import { atTempo, plainScore } from '../../../core/guide/plain-score.ts';
import type { Metre, Score, SoundFamily } from '../../../core/guide/score.ts';

/** Of a click without a score, quarters per minute. */
export const USUAL_TEMPO = 90;
/** The title of a job that makes a guide only to be heard. */
export const HEARD = 'Making the guide to listen to';
export const tonicNames = ['C', 'C♯', 'D', 'E♭', 'E', 'F', 'F♯', 'G', 'A♭', 'A', 'B♭', 'B'] as const;

/** Where everything will lie in a guide, or why it cannot be made. */
export type Planned =
  | { readonly kind: 'planned'; readonly plan: GuidePlan; readonly score: Score }
  | { readonly kind: 'not'; readonly why: string };

/** Plans a guide as the desk will. score: what was read of `choice.score`; null where it was not read (yet). */
export function plannedGuide(choice: GuideChoice, score: ScoreView | null): Planned {
  try {
    const piece = pieceOf(choice, score);
    return { kind: 'planned', score: piece, plan: planGuide(piece, choice.settings) };
  } catch (error) {
    if (!(error instanceof RangeError)) throw error;
    return { kind: 'not', why: `The guide cannot be made so: ${error.message}. Change the tempo or the metre.` };
  }
}

function pieceOf(choice: GuideChoice, view: ScoreView | null): Score {
  const { quartersPerMinute, metre, bars, title } = choice;
  if (view === null) {
    return plainScore({ title, quartersPerMinute: quartersPerMinute ?? USUAL_TEMPO, ...metre, bars });
  }
  // Only the frame is planned here, and notes have no part in it.
  const score: Score = { ...view.score, parts: [] };
  return quartersPerMinute === null ? score : atTempo(score, quartersPerMinute);
}

/** The tempo a piece begins with, quarters per minute, as chosen or as the score says. */
export function tempoOf(choice: GuideChoice, score: ScoreView | null): number {
  return choice.quartersPerMinute ?? score?.score.tempo[0]?.quartersPerMinute ?? USUAL_TEMPO;
}

export const familyWords: Readonly<Record<SoundFamily, string>> = {
  bowed: 'as bowed strings',
  blown: 'as a wind instrument',
  plucked: 'as plucked strings',
  voice: 'as a voice',
  struck: 'as a keyboard',
};

/** "4/4", or "3/4, 4/4 from bar 9" where it changes; at most three of them. */
export function metreWords(metres: readonly Metre[], hasPickUp: boolean): string {
  const told = metres.filter(
    (metre, at) => at === 0 || metre.beats !== metres[at - 1]!.beats || metre.unit !== metres[at - 1]!.unit,
  );
  const words = told.slice(0, 3).map(({ beats, unit, atBar }, at) => {
    const name = `${beats}/${unit}`;
    return at === 0 ? name : `${name} from bar ${hasPickUp ? atBar : atBar + 1}`;
  });
  return told.length > 3 ? `${words.join(', ')}, and more changes` : words.join(', ');
}

/** "♩ = 72", with what it does later. */
export function tempoWords(score: ScoreView['score']): string {
  const first = score.tempo[0]?.quartersPerMinute ?? USUAL_TEMPO;
  // Scores often give one tempo once for each part.
  const changes = score.tempo.filter(
    (mark, n) => n > 0 && mark.quartersPerMinute !== score.tempo[n - 1]!.quartersPerMinute,
  ).length;
  const holds = score.holds.length;
  return [
    `${rounded(first)} quarters a minute`,
    ...(changes > 0 ? [changes === 1 ? 'one change of tempo' : `${changes} changes of tempo`] : []),
    ...(holds > 0 ? [holds === 1 ? 'one fermata' : `${holds} fermatas`] : []),
  ].join(', ');
}

const KEY_NAMES = ['C', 'C♯', 'D', 'E♭', 'E', 'F', 'F♯', 'G', 'A♭', 'A', 'B♭', 'B'];

/** The name of a MIDI key: 60 is C4, 69 is A4. */
export function keyName(key: number): string {
  const whole = Math.round(key);
  return `${KEY_NAMES[((whole % 12) + 12) % 12]}${Math.floor(whole / 12) - 1}`;
}

type Rest = GuideChoice['settings']['restingBars'][number];

/** Bars as people write them, "9-16, 25"; null for what is none. */
export function readRests(text: string): Rest[] | null {
  if (text.trim() === '') return [];
  const rests: Rest[] = [];
  for (const piece of text.split(/[,;]/)) {
    const match = /^\s*(\d{1,5})(?:\s*[-–−]\s*(\d{1,5}))?\s*$/.exec(piece);
    if (match === null) return null;
    const fromBar = Number(match[1]);
    const toBar = Number(match[2] ?? match[1]);
    if (toBar < fromBar || toBar > 20_000 || rests.length >= 100) return null;
    rests.push({ fromBar, toBar });
  }
  return rests;
}

/** The same bars as text. */
export function restsInWords(rests: readonly Rest[]): string {
  return rests.map(({ fromBar, toBar }) => (fromBar === toBar ? String(fromBar) : `${fromBar}–${toBar}`)).join(', ');
}

function rounded(value: number): string {
  return String(Math.round(value * 10) / 10);
}
