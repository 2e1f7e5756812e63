import type { IntonationView, PitchReportView } from '../../app/shell/contract/intonation-view.ts';
import { intonationReport } from '../../core/pitch/intonation.ts';
import { timingReport } from '../../core/pitch/timing.ts';
import type { TunedNote, TunedVoice } from '../../core/pitch/tuned-note.ts';
import type { Session } from '../../core/session/schema.ts';
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
export function inventedIntonation(session: Session, state: string | null): IntonationView {
  const random = new Random(5);
  const bars = session.guide?.plan?.bars ?? [];
  const barAt = (sec: number): number | null => bars.findLast(({ frame }) => frame <= sec * 48000)?.number ?? null;
  const voices = session.voices.map(({ id, name }, n): TunedVoice => {
    const keys = KEYS[n % KEYS.length]!;
    const notes = Array.from({ length: 48 }, (_, at): TunedNote => {
      const fromSec = FIRST_SEC + at * NOTE_SEC;
      const key = keys[at % keys.length]!;
      const own = [4, -3, -14, 6][n % 4]! + (n === 0 ? -0.25 * at : 0) + (n === 1 && at === 21 ? 75 : 0);
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
    return { id, name, notes: n === 4 ? [] : notes, placeUncertaintySec: 0.004 };
  });
  const report: PitchReportView = {
    choice: { referenceHz: null, temperament: 'equal', tonic: 0 },
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
