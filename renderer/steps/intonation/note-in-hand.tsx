import { useMemo } from 'react';
import type { PitchReportView } from '../../../app/shell/contract/intonation-view.ts';
import type { KeptPlan } from '../../../core/session/kept-plan.ts';
import { soundingTake, takeAt } from '../../../core/session/passages.ts';
import { useBench } from '../../desk/bench-store.ts';
import { useView } from '../../desk/desk-store.ts';
import { showInLanes } from '../../lanes/lane-overlay.ts';
import { playStretch } from '../../lanes/play-stretch.ts';
import { Button } from '../../parts/button.tsx';
import { figure } from '../../parts/numbers.ts';
import { StateSign } from '../../parts/state-sign.tsx';
import { useIntonation } from './intonation-store.ts';
import {
  centsWords,
  chordStretch,
  exactCents,
  isNoteOut,
  lateWords,
  noteName,
  whereWords,
} from './intonation-words.ts';
import { noteRows } from './note-rows.ts';

/** The note that was clicked in a lane or chosen in the table, with what is known of it. */
export function NoteInHandLine({ report, plan }: { readonly report: PitchReportView; readonly plan: KeptPlan | null }) {
  const inHand = useIntonation((state) => state.note);
  const part = useIntonation((state) => state.part);
  const { session } = useView();
  const rows = useMemo(() => noteRows(report), [report]);
  const row = inHand === null ? undefined : rows.find((one) => one.voiceId === inHand.voiceId && one.at === inHand.at);
  if (row === undefined) {
    // On the other parts it would only push away what one came for.
    return part === 'notes' ? <LanesWords isByNotes /> : null;
  }
  const { note, late } = row;
  const voice = session.voices.find(({ id }) => id === row.voiceId);
  // Of a voice made of passages, the take that sounds there.
  const takeId =
    voice === undefined
      ? null
      : ((voice.passages && takeAt(voice.passages, note.fromSec)) ?? soundingTake(session, voice)?.id ?? null);
  return (
    <div className="intonation-in-hand" role="status">
      <StateSign state={isNoteOut(note) ? 'lookHere' : 'done'} />
      <p>
        <strong>
          {row.voiceName}, {noteName(note.key)}
        </strong>
        , {whereWords(plan, note)}: {centsWords(note.offCents)} ({exactCents(note.uncertaintyCents)})
        {late === null ? '' : `, ${lateWords(late.ms)} (± ${figure(2 * late.uncertaintyMs, 0)} ms)`}; its pitch moves by{' '}
        {figure(note.spreadCents, 0)} {figure(note.spreadCents, 0) === '1' ? 'cent' : 'cents'} while it is held.
      </p>
      <span className="intonation-in-hand-actions">
        <Button small onClick={() => playStretch(chordStretch(note))}>
          Listen
        </Button>
        <Button small onClick={() => showInLanes(note)}>
          Show it
        </Button>
        <Button
          small
          onClick={() => useBench.setState({ stretch: { fromSec: note.fromSec, toSec: note.toSec, takeId } })}
        >
          Select its stretch
        </Button>
        <Button small kind="quiet" onClick={() => useIntonation.setState({ note: null })}>
          Put it away
        </Button>
      </span>
    </div>
  );
}

/** What the lanes show while this bench is open; `isByNotes`: beside the notes themselves. */
export function LanesWords({ isByNotes = false }: { readonly isByNotes?: boolean }) {
  return (
    <p className="small faint intonation-wide">
      Each lane shows its voice's pitch: the middle line is the pitch it should have, the outer lines of the staff are
      50 cents off it. Click a note there, or press it {isByNotes ? 'below' : 'under “Note by note”'}, to have it in
      hand; thick strokes with an arrow are out of tune.
    </p>
  );
}
