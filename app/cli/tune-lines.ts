import { FEW_MIND, WARN_CENTS, WARN_MS } from '../../core/pitch/audibility.ts';
import type { Chord } from '../../core/pitch/chords.ts';
import type { IntonationReport, NoteIntonation, VoiceIntonation } from '../../core/pitch/intonation.ts';
import { medianOf } from '../../core/pitch/pitch-span.ts';
import type { TimingReport } from '../../core/pitch/timing.ts';
import { time } from '../desk/report/markup.ts';
import type { TuneReport } from '../desk/tune-clips.ts';

/** Notes that are told of each voice at most. */
const MOST_NOTES = 3;
/** A drift of the whole is told from here on, cents. */
const LEAST_DRIFT_CENTS = 5;
/** Voices that lie so far apart have no A in common, cents. */
const APART_CENTS = 20;

/** What was measured, in plain lines. */
export function tuneLines(report: TuneReport): string[] {
  const { intonation, timing } = report;
  const lines: string[] = [];
  for (const voice of report.voices) {
    if (voice.verdict.kind !== 'pitched') lines.push(`${voice.name}: ${voice.verdict.sentence}`);
  }
  if (intonation === null) return [...lines, 'No notes were heard whose pitch could be measured.', ...report.notes];
  const { reference } = intonation;
  const guide = report.guideReferenceHz === null ? '' : `; the guide tunes at ${report.guideReferenceHz} Hz`;
  lines.push(
    `Your A4 is ${reference.hz.toFixed(1)} Hz (${cents(reference.cents)} from 440 Hz, within ${plain(2 * reference.uncertaintyCents)} cents)${guide}.`,
    ...apartLines(intonation.voices),
  );
  if (reference.given) lines.push(`Notes are held against A4 = ${reference.usedHz.toFixed(1)} Hz.`);
  const { drift } = intonation;
  if (
    drift !== null &&
    Math.abs(drift.totalCents) >= LEAST_DRIFT_CENTS &&
    Math.abs(drift.totalCents) > 2 * drift.uncertaintyCents
  ) {
    lines.push(
      `All together ${drift.totalCents < 0 ? 'sink' : 'rise'} by ${Math.abs(drift.totalCents).toFixed(0)} cents over the piece (within ${plain(2 * drift.uncertaintyCents)}).`,
    );
  }
  for (const voice of intonation.voices) lines.push('', ...voiceLines(voice, report));
  lines.push('', ...chordLines(intonation));
  if (timing !== null) lines.push('', ...timingLines(timing));
  if (report.notes.length > 0) lines.push('', 'Worth knowing:', ...report.notes.map((note) => `  ${note}`));
  return lines;
}

/** Said where the voices lie so far apart that the A in their middle is nobody's. */
function apartLines(voices: readonly VoiceIntonation[]): string[] {
  const known = voices.filter(({ centreCents }) => centreCents !== null);
  const sorted = [...known].sort((one, other) => one.centreCents! - other.centreCents!);
  const [low, high] = [sorted[0], sorted.at(-1)];
  if (low === undefined || high === undefined || high.centreCents! - low.centreCents! < APART_CENTS) return [];
  return [
    `It lies in the middle of your voices, which are ${(high.centreCents! - low.centreCents!).toFixed(0)} cents apart: ${low.name} is the lowest, ${high.name} the highest.`,
  ];
}

function timingLines(timing: TimingReport): string[] {
  const against = timing.against === 'guide' ? 'the guide' : 'the others';
  const lines = timing.voices.flatMap((voice) => {
    if (voice.lateMs === null) return [];
    const late = Math.round(voice.lateMs);
    const way = late === 0 ? 'in time with' : `${Math.abs(late)} ms ${late < 0 ? 'early' : 'late'} against`;
    const exact = `within ${plain(2 * voice.uncertaintyMs!)} ms`;
    const figures = `${voice.name}: ${way} ${against} (${exact}), its notes spread by ${voice.spreadMs!.toFixed(0)} ms, each known within ${plain(2 * medianOf(voice.notes.map((note) => note.uncertaintyMs)))}.`;
    return voice.sentence === null ? [figures] : [figures, `  ${voice.sentence}`];
  });
  if (timing.spreadMs === null) return lines;
  return [
    ...lines,
    `Notes that belong together spread by ${timing.spreadMs.toFixed(0)} ms; good ensembles have 30 to 50 ms (Rasch 1979), below ${WARN_MS} ms the order is not heard.`,
  ];
}

function voiceLines(voice: VoiceIntonation, report: TuneReport): string[] {
  const facts = report.voices.find((one) => one.id === voice.id);
  if (voice.centreCents === null) return [`${voice.name}: no notes.`];
  const part = facts?.part == null ? '' : ` (${facts.part}, ${facts.notesMatched} of ${facts.notesWritten} notes)`;
  const lines = [
    `${voice.name}${part}: ${cents(voice.centreCents)}, notes spread by ${plain(voice.spreadCents!)} cents, each known within ${plain(2 * medianOf(voice.notes.map((note) => note.uncertaintyCents)))}.`,
    ...voice.habits.map((habit) => `  ${habit.sentence}`),
  ];
  for (const wrong of facts?.wrongNotes.slice(0, MOST_NOTES) ?? []) {
    const place = where({ bar: wrong.bar, fromSec: wrong.sec });
    lines.push(`  ${place}: ${noteName(wrong.heardKey)} was played, ${noteName(wrong.writtenKey)} is written.`);
  }
  const more = (facts?.wrongNotes.length ?? 0) - MOST_NOTES;
  if (more > 0) lines.push(`  and ${more} more wrong notes.`);
  const out = voice.notes
    .map((note) => ({ note, off: note.offCents - voice.centreCents! }))
    .filter(({ note, off }) => Math.abs(off) >= WARN_CENTS && Math.abs(off) > 2 * note.uncertaintyCents)
    .sort((a, b) => Math.abs(b.off) - Math.abs(a.off));
  for (const { note, off } of out.slice(0, MOST_NOTES)) {
    lines.push(`  ${noteName(note.key)} ${where(note)} is ${sharpOrFlat(off)} for this voice.`);
  }
  if (out.length > MOST_NOTES) lines.push(`  and ${out.length - MOST_NOTES} more from ${WARN_CENTS} cents on.`);
  return lines;
}

function chordLines(intonation: IntonationReport): string[] {
  const { worstChords, chordsMeasured, chordsOut, chordsOutByHabit, voices } = intonation;
  if (chordsMeasured === 0) return ['No chords were measured.'];
  if (chordsOut === 0) return [`None of ${chordsMeasured} chords is out of tune as far as it can be heard and told.`];
  const habits = chordsOutByHabit
    .filter(({ count }) => count > 1)
    .map(({ voiceId, count }) => `in ${count} of them it is ${voices.find(({ id }) => id === voiceId)!.name}`);
  const first = habits.join(', ').replace(/^i/, 'I');
  return [
    `${chordsOut} of ${chordsMeasured} chords are heard to be out of tune; the worst:`,
    ...worstChords.map((chord) => `  ${where(chord)}: ${chordWords(chord)}`),
    ...(habits.length === 0 ? [] : [`${first}, by its habit: mend that first.`]),
  ];
}

function chordWords({ worst, notes, fault }: Chord): string {
  const low = notes.find((note) => note.voiceId === worst.lowVoiceId)!;
  const high = notes.find((note) => note.voiceId === worst.highVoiceId)!;
  const off = Math.abs(worst.offCents).toFixed(0);
  const size =
    worst.name === 'unison' ? `${off} cents apart` : `${off} cents too ${worst.offCents > 0 ? 'wide' : 'narrow'}`;
  const minor = Math.abs(worst.offCents) < WARN_CENTS ? ` ${FEW_MIND}` : '';
  const guilty = notes.find(({ voiceId }) => voiceId === fault?.voiceId);
  const whose =
    guilty === undefined
      ? ''
      : `; ${guilty.name} is too ${fault!.cents > 0 ? 'high' : 'low'} for the others by ${Math.abs(fault!.cents).toFixed(0)}${fault!.isHabit ? ', mostly by its habit' : ''}`;
  return `${intervalWords(worst)} ${noteName(low.key)} to ${noteName(high.key)} between ${low.name} and ${high.name} is ${size}${minor}${whose}.`;
}

/** "fifth", "fifth and an octave", "2 octaves". */
function intervalWords({ name, equalCents }: Chord['worst']): string {
  const octaves = Math.floor(Math.round(equalCents) / 1200);
  if (name === 'octave') return octaves === 1 ? name : `${octaves} octaves`;
  if (octaves === 0) return name;
  return `${name} and ${octaves === 1 ? 'an octave' : `${octaves} octaves`}`;
}

const NAMES = ['C', 'C♯', 'D', 'E♭', 'E', 'F', 'F♯', 'G', 'A♭', 'A', 'B♭', 'B'];

/** A key as players name it, C4 the middle one. */
function noteName(key: number): string {
  const whole = Math.round(key);
  return `${NAMES[((whole % 12) + 12) % 12]}${Math.floor(whole / 12) - 1}`;
}

function where(place: Pick<NoteIntonation, 'bar' | 'fromSec'>): string {
  const at = `at ${time(place.fromSec)}`;
  return place.bar === null ? at : `bar ${place.bar} (${at})`;
}

function sharpOrFlat(off: number): string {
  return `${Math.abs(off).toFixed(0)} cents ${off > 0 ? 'sharp' : 'flat'}`;
}

function cents(value: number): string {
  const rounded = Math.round(value);
  return rounded === 0 ? '0 cents' : `${rounded < 0 ? '−' : '+'}${Math.abs(rounded)} cents`;
}

function plain(value: number): string {
  return value < 1 ? value.toFixed(1) : value.toFixed(0);
}
