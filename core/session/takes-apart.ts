import { HEARD_CENTS } from '../pitch/audibility.ts';
import type { IntonationReport, VoiceIntonation } from '../pitch/intonation.ts';
import { medianOf } from '../pitch/pitch-span.ts';
import type { VoiceHabit } from '../pitch/voice-habits.ts';
import { takeAt } from './passages.ts';
import type { Session } from './schema.ts';

/** A take is held against another from so many notes on: the middle of fewer says little. Chosen. */
const FEWEST_NOTES = 3;
/** Standard deviation of a normal distribution to its median deviation, and of a median to a mean. */
const DEVIATION_OF_MEDIAN = 1.4826;
const MEDIAN_TO_MEAN = 1.2533;

/** The middle of a take's notes, cents, and one standard deviation of it. */
interface Middle {
  readonly takeId: string;
  readonly cents: number;
  readonly deviationCents: number;
}

/**
 * A report in which a voice of passages whose takes are tuned apart by what is heard says so, in the place of its habits, and is not said to spoil
 * chords by these: what such a voice seems to do all through, such as sinking, is its change of takes. The very same report where there is
 * no such voice.
 */
export function withTakesApart(report: IntonationReport, session: Session): IntonationReport {
  const apart = new Map<string, VoiceHabit>();
  for (const voice of report.voices) {
    const habit = takesApart(voice, session);
    if (habit !== null) apart.set(voice.id, habit);
  }
  if (apart.size === 0) return report;
  return {
    ...report,
    voices: report.voices.map((voice) => {
      const habit = apart.get(voice.id);
      return habit === undefined ? voice : { ...voice, habits: [habit] };
    }),
    worstChords: report.worstChords.map((chord) =>
      chord.fault !== null && apart.has(chord.fault.voiceId)
        ? { ...chord, fault: { ...chord.fault, isHabit: false } }
        : chord,
    ),
    chordsOutByHabit: report.chordsOutByHabit.filter(({ voiceId }) => !apart.has(voiceId)),
  };
}

/** The two takes of a voice of passages that are tuned farthest apart; null where none are by what is heard, and for a voice of one take. */
function takesApart({ id, name, notes }: VoiceIntonation, session: Session): VoiceHabit | null {
  const passages = session.voices.find((voice) => voice.id === id)?.passages ?? null;
  if (passages === null) return null;
  const offs = new Map<string, number[]>();
  for (const { fromSec, toSec, offCents } of notes) {
    const takeId = takeAt(passages, 0.5 * (fromSec + toSec)) ?? '';
    offs.set(takeId, [...(offs.get(takeId) ?? []), offCents]);
  }
  const middles = [...offs]
    .filter(([, cents]) => cents.length >= FEWEST_NOTES)
    .map(([takeId, cents]) => middleOf(takeId, cents))
    .sort((one, other) => one.cents - other.cents);
  const [lower, higher] = [middles[0], middles.at(-1)];
  if (lower === undefined || higher === undefined || higher.cents - lower.cents < HEARD_CENTS) return null;
  const nameOf = (wanted: string): string => session.takes.find((take) => take.id === wanted)?.name ?? wanted;
  const cents = higher.cents - lower.cents;
  return {
    kind: 'takesApart',
    cents,
    uncertaintyCents: 2 * Math.hypot(lower.deviationCents, higher.deviationCents),
    sentence: `The takes of ${name} are tuned apart: ${nameOf(higher.takeId)} lies ${cents.toFixed(0)} cents above ${nameOf(lower.takeId)}; moving one of them mends it.`,
  };
}

function middleOf(takeId: string, offCents: readonly number[]): Middle {
  const cents = medianOf(offCents);
  const spread = DEVIATION_OF_MEDIAN * medianOf(offCents.map((one) => Math.abs(one - cents)));
  return { takeId, cents, deviationCents: (MEDIAN_TO_MEAN * spread) / Math.sqrt(offCents.length) };
}
