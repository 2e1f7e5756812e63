import { WARN_CENTS } from './audibility.ts';
import { robustLine } from './robust-line.ts';
import type { TunedVoice } from './tuned-note.ts';

/** Something a voice does all through the piece. */
export interface VoiceHabit {
  readonly kind: 'highAll' | 'lowAll' | 'flatHigh' | 'sharpHigh' | 'sinks' | 'rises' | 'uneven';
  /** Size, cents: of the whole, for each octave up, over the whole piece, or the spread. */
  readonly cents: number;
  readonly uncertaintyCents: number;
  /** One plain sentence. */
  readonly sentence: string;
}

/** A habit is told when it is this many standard deviations from none. */
const SURE = 3;
/** Tendencies over the piece or an octave are worth a word from here on, cents: what trained listeners hear. */
const TENDENCY_CENTS = 6;
/** A slope over pitch needs notes over this range, half tones. */
const LEAST_RANGE = 5;

/** What a voice does all through, from its notes. centreCents: its centre above the reference in use. */
export function voiceHabits(voice: TunedVoice, centreCents: number, uncertaintyCents: number): VoiceHabit[] {
  const habits: VoiceHabit[] = [];
  const { name, notes } = voice;
  const size = Math.abs(centreCents);
  if (size >= TENDENCY_CENTS && size >= SURE * uncertaintyCents) {
    const sharp = centreCents > 0;
    habits.push({
      kind: sharp ? 'highAll' : 'lowAll',
      cents: centreCents,
      uncertaintyCents,
      sentence: `${name} is ${size.toFixed(0)} cents ${sharp ? 'sharp' : 'flat'} all through${size < WARN_CENTS ? ' (few will mind)' : ''}.`,
    });
  }
  const offs = notes.map((note) => note.cents - note.targetCents);
  const inTime = robustLine(notes.map((note, index) => [0.5 * (note.fromSec + note.toSec), offs[index]!]));
  const lengthSec = (notes.at(-1)?.toSec ?? 0) - (notes[0]?.fromSec ?? 0);
  if (inTime !== undefined && notes.length >= 8) {
    const total = inTime.slope * lengthSec;
    const doubt = inTime.slopeUncertainty * lengthSec;
    if (Math.abs(total) >= TENDENCY_CENTS && Math.abs(total) >= SURE * doubt) {
      habits.push({
        kind: total < 0 ? 'sinks' : 'rises',
        cents: total,
        uncertaintyCents: doubt,
        sentence: `${name} ${total < 0 ? 'sinks' : 'rises'} by ${Math.abs(total).toFixed(0)} cents from beginning to end.`,
      });
    }
  }
  const keys = notes.map((note) => note.key);
  const range = keys.length === 0 ? 0 : Math.max(...keys) - Math.min(...keys);
  const overTime = (index: number): number =>
    inTime === undefined ? 0 : inTime.slope * (0.5 * (notes[index]!.fromSec + notes[index]!.toSec) - inTime.middle);
  const inPitch = robustLine(keys.map((key, index) => [key, offs[index]! - overTime(index)]));
  if (inPitch !== undefined && range >= LEAST_RANGE && notes.length >= 8) {
    const reach = inPitch.slope * range;
    const doubt = inPitch.slopeUncertainty * range;
    if (Math.abs(reach) >= TENDENCY_CENTS && Math.abs(reach) >= SURE * doubt) {
      habits.push({
        kind: reach < 0 ? 'flatHigh' : 'sharpHigh',
        cents: 12 * inPitch.slope,
        uncertaintyCents: 12 * inPitch.slopeUncertainty,
        sentence: `${name} is ${reach < 0 ? 'flatter' : 'sharper'} on high notes: ${Math.abs(reach).toFixed(0)} cents from its lowest to its highest.`,
      });
    }
  }
  const spread = inTime?.spread ?? 0;
  if (spread >= WARN_CENTS) {
    habits.push({
      kind: 'uneven',
      cents: spread,
      uncertaintyCents: spread / Math.sqrt(2 * Math.max(1, notes.length)),
      sentence: `${name} is uneven: its notes spread by ${spread.toFixed(0)} cents about their middle.`,
    });
  }
  return habits;
}
