import { WARN_CENTS, WARN_MS } from '../../core/pitch/audibility.ts';
import type { Chord } from '../../core/pitch/chords.ts';
import type { NoteIntonation, VoiceIntonation } from '../../core/pitch/intonation.ts';
import { time } from '../desk/report/markup.ts';
import type { TuneReport } from '../desk/tune-clips.ts';

/** Notes that are told of each voice at most. */
const MOST_NOTES = 3;
/** A drift of the whole is told from here on, cents. */
const LEAST_DRIFT_CENTS = 5;

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
  );
  if (reference.given) lines.push(`Notes are held against A4 = ${reference.usedHz.toFixed(1)} Hz.`);
  const { drift } = intonation;
  if (
    drift !== null &&
    Math.abs(drift.totalCents) >= LEAST_DRIFT_CENTS &&
    Math.abs(drift.totalCents) > 2 * drift.uncertaintyCents
  ) {
    lines.push(
      `All together ${drift.totalCents < 0 ? 'sink' : 'rise'} by ${Math.abs(drift.totalCents).toFixed(0)} cents over the piece.`,
    );
  }
  for (const voice of intonation.voices) lines.push('', ...voiceLines(voice, report));
  lines.push('', ...chordLines(intonation.worstChords, intonation.chordsMeasured));
  if (timing !== null) {
    lines.push('');
    const against = timing.against === 'guide' ? 'the guide' : 'the others';
    for (const voice of timing.voices) {
      if (voice.lateMs === null) continue;
      const way = `${Math.abs(voice.lateMs).toFixed(0)} ms ${voice.lateMs < 0 ? 'early' : 'late'}`;
      lines.push(`${voice.name}: ${way} against ${against}, its notes spread by ${voice.spreadMs!.toFixed(0)} ms.`);
    }
    if (timing.spreadMs !== null) {
      lines.push(
        `Notes that belong together spread by ${timing.spreadMs.toFixed(0)} ms; good ensembles have 30 to 50 ms (Rasch 1979), below ${WARN_MS} ms the order is not heard.`,
      );
    }
  }
  if (report.notes.length > 0) lines.push('', 'Worth knowing:', ...report.notes.map((note) => `  ${note}`));
  return lines;
}

function voiceLines(voice: VoiceIntonation, report: TuneReport): string[] {
  const facts = report.voices.find((one) => one.id === voice.id);
  if (voice.centreCents === null) return [`${voice.name}: no notes.`];
  const part = facts?.part == null ? '' : ` (${facts.part}, ${facts.notesMatched} of ${facts.notesWritten} notes)`;
  const lines = [
    `${voice.name}${part}: ${cents(voice.centreCents)}, notes spread by ${plain(voice.spreadCents!)} cents.`,
    ...voice.habits.map((habit) => `  ${habit.sentence}`),
  ];
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

function chordLines(chords: readonly Chord[], measured: number): string[] {
  if (measured === 0) return ['No chords were measured.'];
  if (chords.length === 0) return [`All ${measured} chords are in tune.`];
  return [
    `The worst of ${measured} chords:`,
    ...chords.map((chord) => {
      const { worst } = chord;
      const low = chord.notes.find((note) => note.voiceId === worst.lowVoiceId)!;
      const high = chord.notes.find((note) => note.voiceId === worst.highVoiceId)!;
      const size = `${Math.abs(worst.offCents).toFixed(0)} cents too ${worst.offCents > 0 ? 'wide' : 'narrow'}`;
      const minor = Math.abs(worst.offCents) < WARN_CENTS ? ' (few will mind)' : '';
      return `  ${where(chord)}: ${worst.name} ${noteName(low.key)} to ${noteName(high.key)} between ${low.name} and ${high.name} is ${size}${minor}.`;
    }),
  ];
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
