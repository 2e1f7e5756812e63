import type { IntonationView, PitchReportView } from '../../app/shell/contract/intonation-view.ts';
import { intonationReport } from '../../core/pitch/intonation.ts';
import { mendCentsAt, warpedTakeSec } from '../../core/pitch/mend.ts';
import { NO_PITCH } from '../../core/pitch/off-curve.ts';
import { timingReport } from '../../core/pitch/timing.ts';
import type { TunedNote, TunedVoice } from '../../core/pitch/tuned-note.ts';
import type { Session } from '../../core/session/schema.ts';
import { takeSecOf } from '../../core/signal/clock.ts';
import { Random } from '../../core/signal/random.ts';

const KEYS = [
  [74, 76, 78, 79, 81, 79, 78, 76],
  [69, 69, 74, 74, 76, 76, 74, 73],
  [66, 64, 62, 67, 64, 67, 66, 64],
  [50, 57, 59, 55, 57, 52, 50, 57],
];
const NOTE_SEC = 0.72;
const FIRST_SEC = 16;

/** Invented notes through the real report. state: 'stale', or anything else for a current one. */
export function inventedIntonation(session: Session, state: string | null, lengthSec: number): IntonationView {
  const random = new Random(5);
  const bars = session.guide?.plan?.bars ?? [];
  const barAt = (sec: number): number | null => bars.findLast(({ frame }) => frame <= sec * 48000)?.number ?? null;
  const mendedOf = (voiceId: string): ((note: TunedNote) => TunedNote) => {
    const take = session.takes.find((one) => one.voiceId === voiceId);
    const { mend, placement } = take ?? { mend: null, placement: null };
    if (mend === null || placement === null) return (note) => note;
    return (note) => {
      const takeSec = takeSecOf(placement, note.fromSec);
      const laterSec = warpedTakeSec(mend, takeSec) - takeSec;
      const [fromSec, toSec] = [note.fromSec + laterSec, note.toSec + laterSec];
      return { ...note, fromSec, toSec, onsetSec: fromSec, cents: note.cents + mendCentsAt(mend, takeSec) };
    };
  };
  const count = Math.max(48, Math.floor((lengthSec - FIRST_SEC - 2) / NOTE_SEC));
  const voices = session.voices.map(({ id, name }, n): TunedVoice => {
    const keys = KEYS[n % KEYS.length]!;
    const notes = Array.from({ length: lengthSec > 60 ? count : 48 }, (_, at): TunedNote => {
      const fromSec = FIRST_SEC + at * NOTE_SEC;
      const key = keys[at % keys.length]!;
      const own = [4, -3, -14, 6][n % 4]! + (n === 0 ? (-12 * at) / count : 0) + (n === 1 && at === 21 ? 75 : 0);
      const late = [0.004, -0.012, 0.031, 0.002][n % 4]! + 0.014 * random.gaussian();
      return {
        fromSec: fromSec + late,
        toSec: fromSec + late + NOTE_SEC - 0.06,
        key,
        cents: 100 * (key - 69) + 5 + own + 5 * random.gaussian(),
        targetCents: 100 * (key - 69),
        spreadCents: 3,
        uncertaintyCents: 1.2,
        bar: barAt(fromSec),
        onsetSec: fromSec + late,
        onsetUncertaintySec: 0.005,
        expectedSec: fromSec,
      };
    });
    return { id, name, notes: n === 4 ? [] : notes.map(mendedOf(id)), placeUncertaintySec: 0.004 };
  });
  const report: PitchReportView = {
    choice: { referenceHz: null, temperament: 'equal', tonic: 0 },
    mends: Object.fromEntries(session.takes.flatMap(({ id, mend }) => (mend === null ? [] : [[id, mend]]))),
    voices: voices.map(({ id, name, notes }, n) => ({
      id,
      name,
      verdict:
        n === 4
          ? {
              kind: 'several',
              pitchedShare: 0.2,
              sentence: 'Several notes seem to sound at once; its pitch is not measured.',
            }
          : { kind: 'pitched', pitchedShare: 0.9, sentence: 'One clear pitch at a time.' },
      part: session.guide === null ? null : name,
      notesHeard: notes.length,
      notesWritten: session.guide === null ? null : 50,
      notesMatched: session.guide === null ? null : notes.length,
    })),
    against: session.guide === null ? 'keys' : 'guide',
    intonation: intonationReport(voices, { referenceHz: null }) ?? null,
    timing: timingReport(voices, session.guide === null ? 'others' : 'guide'),
    guideReferenceHz: session.guide === null ? null : 440,
    notes: ['Soprano recorder has chords in the score; its top notes are looked for.'],
  };
  return { state: state === 'stale' ? 'stale' : 'current', fault: null, report };
}

const HOP_SEC = 0.01;

/** The pitch curve of a voice of the report as the desk would hand it out: vibrato, and a slide into each note. */
export function inventedCurve(report: PitchReportView, voiceId: string): ArrayBuffer {
  const notes = report.intonation?.voices.find(({ id }) => id === voiceId)?.notes ?? [];
  const fromSec = notes[0]?.fromSec ?? 0;
  const tenths = new Int16Array(Math.ceil(((notes.at(-1)?.toSec ?? fromSec) - fromSec) / HOP_SEC)).fill(NO_PITCH);
  const random = new Random(9);
  for (const note of notes) {
    const end = Math.min(tenths.length, (note.toSec - fromSec) / HOP_SEC);
    for (let n = Math.ceil((note.fromSec - fromSec) / HOP_SEC); n < end; n++) {
      const sec = n * HOP_SEC + fromSec - note.fromSec;
      const moved = 7 * Math.sin(2 * Math.PI * 5.5 * sec) - 15 * Math.exp(-sec / 0.03) + 1.5 * random.gaussian();
      tenths[n] = Math.round(10 * (note.offCents + moved));
    }
  }
  const bytes = new ArrayBuffer(16 + tenths.byteLength);
  const view = new DataView(bytes);
  view.setFloat64(0, fromSec, true);
  view.setFloat64(8, HOP_SEC, true);
  tenths.forEach((value, n) => {
    view.setInt16(16 + 2 * n, value, true);
  });
  return bytes;
}
