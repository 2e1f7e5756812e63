import { HEARD_CENTS } from '../../../core/pitch/audibility.ts';
import type { IntonationReport, VoiceIntonation } from '../../../core/pitch/intonation.ts';
import { medianOf } from '../../../core/pitch/pitch-span.ts';
import { takeAt } from '../../../core/session/passages.ts';
import type { Session } from '../../../core/session/schema.ts';

/** A take is held against another from so many notes on: the middle of fewer says little. Chosen. */
const FEWEST_NOTES = 3;

/** Two takes that a voice is put together from, tuned apart by what is heard. */
export interface TakesApart {
  readonly lower: string;
  readonly higher: string;
  /** How far the middles of their notes lie apart, above 0. */
  readonly cents: number;
}

/**
 * The two takes of a voice of passages that are tuned farthest apart; null where none are by what is heard, and for a voice of one take.
 * What such a voice seems to do all through, such as sinking, is then its change of takes.
 */
export function takesApart(voice: Pick<VoiceIntonation, 'id' | 'notes'>, session: Session): TakesApart | null {
  const passages = session.voices.find(({ id }) => id === voice.id)?.passages ?? null;
  if (passages === null) return null;
  const offs = new Map<string, number[]>();
  for (const { fromSec, toSec, offCents } of voice.notes) {
    const takeId = takeAt(passages, 0.5 * (fromSec + toSec)) ?? '';
    offs.set(takeId, [...(offs.get(takeId) ?? []), offCents]);
  }
  const middles = [...offs]
    .filter(([, cents]) => cents.length >= FEWEST_NOTES)
    .map(([takeId, cents]) => ({ takeId, cents: medianOf(cents) }))
    .sort((one, other) => one.cents - other.cents);
  const [lower, higher] = [middles[0], middles.at(-1)];
  if (lower === undefined || higher === undefined || higher.cents - lower.cents < HEARD_CENTS) return null;
  const nameOf = (wanted: string): string => session.takes.find(({ id }) => id === wanted)?.name ?? wanted;
  return { lower: nameOf(lower.takeId), higher: nameOf(higher.takeId), cents: higher.cents - lower.cents };
}

/** "Its takes are tuned apart: flute t2 lies 29 cents above flute t1; “Mend” moves a take." */
export function takesApartWords({ lower, higher, cents }: TakesApart): string {
  return `Its takes are tuned apart: ${higher} lies ${cents.toFixed(0)} cents above ${lower}; “Mend” moves a take.`;
}

/** The voices whose habits are to be told: not those whose takes are tuned apart. */
export function withHabits({ voices }: IntonationReport, session: Session): ReadonlySet<string> {
  return new Set(voices.filter((voice) => takesApart(voice, session) === null).map(({ id }) => id));
}
