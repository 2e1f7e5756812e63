import type { HeardVoiceView, PitchReportView } from '../../../app/shell/contract/intonation-view.ts';
import { WARN_CENTS, WARN_MS } from '../../../core/pitch/audibility.ts';
import type { Chord } from '../../../core/pitch/chords.ts';
import type { IntonationReport, NoteIntonation, VoiceIntonation } from '../../../core/pitch/intonation.ts';
import { medianOf } from '../../../core/pitch/pitch-span.ts';
import type { VoiceTiming } from '../../../core/pitch/voice-timing.ts';
import type { KeptPlan } from '../../../core/session/kept-plan.ts';
import { SESSION_RATE_HZ } from '../../../core/signal/time.ts';
import { placeAt, placeInWords } from '../../lanes/bar-map.ts';
import { change, clock, figure } from '../../parts/numbers.ts';
import { tonicNames } from '../guide/guide-words.ts';

/** What is heard around a chord, s. */
const BEFORE_SEC = 1;
const AFTER_SEC = 2;
/** A drift of the whole is told from here on, cents: what trained listeners hear in long notes. */
const LEAST_DRIFT_CENTS = 5;
/** Two standard deviations: the figure is this exact in 95 of 100 cases. */
const SURE = 2;

/** A key as players name it, C4 the middle one. */
export function noteName(key: number): string {
  const whole = Math.round(key);
  return `${tonicNames[((whole % 12) + 12) % 12]}${Math.floor(whole / 12) - 1}`;
}

/** "+4 cents", "−12 cents", "0 cents". */
export function centsWords(cents: number): string {
  const rounded = Math.round(cents) + 0;
  return `${change(rounded, 0)} ${Math.abs(rounded) === 1 ? 'cent' : 'cents'}`;
}

/** How exact a figure is: "± 0.6 cents" below 1, "± 1 cent", "± 3 cents" above. */
export function exactCents(uncertaintyCents: number): string {
  const reach = SURE * uncertaintyCents;
  const words = figure(reach, reach < 0.95 ? 1 : 0);
  return `± ${words} ${words === '1' ? 'cent' : 'cents'}`;
}

/** Bar and beat where the guide knows them (a note played early has the beat that it was meant for), else the bar of the score, else the time. */
export function whereWords(
  plan: KeptPlan | null,
  place: { readonly bar: number | null; readonly fromSec: number },
): string {
  const beat = plan === null ? null : placeAt(plan, aimedSec(plan, place.fromSec));
  if (beat !== null) return placeInWords(beat);
  return place.bar === null ? `at ${clock(place.fromSec)}` : `bar ${place.bar}, at ${clock(place.fromSec)}`;
}

/** What begins less than this share of a beat before a beat was meant for it: half of a fourth of a beat, the shortest notes of most pieces. */
const EARLY_SHARE = 0.125;

/** The beat that a beginning just before it was meant for, else the beginning itself, session s. */
function aimedSec({ bars, musicEndFrame }: KeptPlan, sec: number): number {
  const frame = sec * SESSION_RATE_HZ;
  for (const [at, bar] of bars.entries()) {
    const nextFrame = bar.beatFrames.find((beatFrame) => beatFrame > frame);
    if (nextFrame === undefined) continue;
    const beatFrames = ((bars[at + 1]?.frame ?? musicEndFrame) - bar.frame) / bar.beatFrames.length;
    return nextFrame - frame < EARLY_SHARE * beatFrames ? nextFrame / SESSION_RATE_HZ : sec;
  }
  return sec;
}

/** An interval as it is written: "fifth", "fifth and an octave", "interval of 2 octaves". */
function intervalWords({ name, equalCents }: Pick<Chord['worst'], 'name' | 'equalCents'>): string {
  const octaves = Math.floor(Math.round(equalCents) / 1200);
  if (name === 'octave') return octaves === 1 ? name : `interval of ${octaves} octaves`;
  if (octaves === 0) return name;
  return `${name} and ${octaves === 1 ? 'an octave' : `${octaves} octaves`}`;
}

/** What is wrong with a chord: "The fifth D4 to A4 of Tenor and Soprano is 18 cents too wide." */
export function chordWords({ worst, notes }: Pick<Chord, 'worst' | 'notes'>): string {
  const low = notes.find((note) => note.voiceId === worst.lowVoiceId)!;
  const high = notes.find((note) => note.voiceId === worst.highVoiceId)!;
  const size = `${Math.abs(worst.offCents).toFixed(0)} cents`;
  const voices = `${low.name} and ${high.name}`;
  if (worst.name === 'unison') return `The unison ${noteName(low.key)} of ${voices} is ${size} apart.`;
  const way = worst.offCents > 0 ? 'wide' : 'narrow';
  return `The ${intervalWords(worst)} ${noteName(low.key)} to ${noteName(high.key)} of ${voices} is ${size} too ${way}.`;
}

/** Which voice of a chord is off: "Soprano is 20 cents too high for the others, mostly by its habit."; null where that cannot be told. */
export function faultWords({ fault, notes }: Pick<Chord, 'fault' | 'notes'>): string | null {
  const guilty = notes.find(({ voiceId }) => voiceId === fault?.voiceId);
  if (fault === null || guilty === undefined) return null;
  const way = fault.cents > 0 ? 'high' : 'low';
  return `${guilty.name} is ${Math.abs(fault.cents).toFixed(0)} cents too ${way} for the others${fault.isHabit ? ', mostly by its habit' : ''}.`;
}

/** What is heard of a chord: from 1 s before it begins to 2 s after. */
export function chordStretch({ fromSec }: Pick<Chord, 'fromSec'>): {
  readonly fromSec: number;
  readonly toSec: number;
} {
  return { fromSec: Math.max(0, fromSec - BEFORE_SEC), toSec: fromSec + AFTER_SEC };
}

/** A chord that should be looked at. */
export function isOut({ worst }: Pick<Chord, 'worst'>): boolean {
  return Math.abs(worst.offCents) >= WARN_CENTS;
}

/** How the pitch of all moves, one plain sentence. */
export function driftWords(drift: IntonationReport['drift']): string {
  if (drift === null) return 'Too few notes to tell whether the pitch moves.';
  const { totalCents, uncertaintyCents } = drift;
  const isSure = Math.abs(totalCents) > SURE * uncertaintyCents;
  const exact = exactCents(uncertaintyCents);
  if (Math.abs(totalCents) < LEAST_DRIFT_CENTS || !isSure) {
    return `The pitch stays where it is from beginning to end (${centsWords(totalCents)}, ${exact}).`;
  }
  const way = totalCents < 0 ? 'sinks' : 'rises';
  return `All together the pitch ${way} by ${Math.abs(totalCents).toFixed(0)} cents from beginning to end (${exact}).`;
}

/** What of a voice could not be measured and why; null where nothing is to be said. */
export function unmeasuredWords(voice: HeardVoiceView): string | null {
  const { verdict, notesWritten, notesMatched } = voice;
  if (verdict.kind !== 'pitched') return verdict.sentence;
  if (notesWritten === null || notesMatched === null || notesMatched >= notesWritten) return null;
  const missing = notesWritten - notesMatched;
  const found = `${missing} of ${notesWritten} written ${missing === 1 ? 'notes was' : 'notes were'} not found in it, or too short to measure.`;
  return missesMany(voice) ? `${found} Was it played as written, and did it enter in time?` : found;
}

/** Of a take that was played as written, fewer than this share of the notes are not found. Chosen. */
const MANY_MISSING = 0.1;

/** So many written notes were not found in a voice that it may have been played otherwise, or entered wrongly. */
export function missesMany({
  notesWritten,
  notesMatched,
}: Pick<HeardVoiceView, 'notesWritten' | 'notesMatched'>): boolean {
  return notesWritten !== null && notesMatched !== null && notesMatched < (1 - MANY_MISSING) * notesWritten;
}

/** A note that is out of tune beyond doubt. */
export function isNoteOut(note: Pick<NoteIntonation, 'offCents' | 'uncertaintyCents'>): boolean {
  return Math.abs(note.offCents) >= WARN_CENTS && Math.abs(note.offCents) > SURE * note.uncertaintyCents;
}

/** Notes of a voice that are out of tune for this voice, beyond doubt, the farthest first. */
export function notesOut(
  voice: VoiceIntonation,
): readonly { readonly note: NoteIntonation; readonly offCents: number }[] {
  return voice.notes
    .map((note) => ({ note, offCents: note.offCents - (voice.centreCents ?? 0) }))
    .filter(({ note, offCents }) => isNoteOut({ offCents, uncertaintyCents: note.uncertaintyCents }))
    .sort((one, other) => Math.abs(other.offCents) - Math.abs(one.offCents));
}

/** "B4 (bar 3, beat 2) is 22 cents flat for this voice". */
export function noteWords(plan: KeptPlan | null, { note, offCents }: ReturnType<typeof notesOut>[number]): string {
  const way = offCents > 0 ? 'sharp' : 'flat';
  return `${noteName(note.key)} (${whereWords(plan, note)}) is ${Math.abs(offCents).toFixed(0)} cents ${way}`;
}

/** The picture of a voice in words, for whoever does not see it. */
export function pictureWords(plan: KeptPlan | null, voice: VoiceIntonation): string {
  const { notes, centreCents } = voice;
  if (notes.length === 0 || centreCents === null) return 'No notes were measured.';
  const within = notes.filter(({ offCents }) => Math.abs(offCents) < WARN_CENTS).length;
  const farthest = notes.reduce((far, note) => (Math.abs(note.offCents) > Math.abs(far.offCents) ? note : far));
  return (
    `${within} of ${notes.length} notes lie within ${WARN_CENTS} cents of the reference; the middle is ${centsWords(centreCents)}. ` +
    `The pitch of a note is known to ${exactCents(medianOf(notes.map((note) => note.uncertaintyCents)))}. ` +
    `The farthest is ${noteName(farthest.key)}, ${whereWords(plan, farthest)}, at ${centsWords(farthest.offCents)}.`
  );
}

/** "12 ms late", "8 ms early", "in time". */
export function lateWords(lateMs: number): string {
  const rounded = Math.round(lateMs);
  if (rounded === 0) return 'in time';
  return `${Math.abs(rounded)} ms ${rounded > 0 ? 'late' : 'early'}`;
}

/** Whether a voice is early or late in a way that others hear. */
export function isLate({ lateMs, uncertaintyMs }: Pick<VoiceTiming, 'lateMs' | 'uncertaintyMs'>): boolean {
  return lateMs !== null && Math.abs(lateMs) >= WARN_MS && Math.abs(lateMs) > SURE * (uncertaintyMs ?? 0);
}

/** What notes were held against, for people. */
export function againstWords({ against, choice }: Pick<PitchReportView, 'against' | 'choice'>): string {
  const tuning = { equal: 'equal', pythagorean: 'Pythagorean', meanTone: 'mean-tone', just: 'just' }[
    choice.temperament
  ];
  const on = choice.temperament === 'equal' ? '' : ` on ${tonicNames[choice.tonic]}`;
  const score = against === 'keys' ? 'the nearest keys' : 'the score of the guide';
  return `Notes are held against ${score}, in ${tuning} temperament${on}.`;
}

/** The same, with the A that they are held against. */
export function heldWords(report: PitchReportView): string {
  const reference = report.intonation?.reference;
  if (reference === undefined) return againstWords(report);
  const whose = reference.given ? 'a given A' : 'your own A';
  return `${againstWords(report).replace(/\.$/, '')}, by ${whose} of ${figure(reference.usedHz, 1)} Hz.`;
}
