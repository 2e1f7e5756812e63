import { useMemo, useState } from 'react';
import type { Session } from '../../../core/session/schema.ts';
import { ask, edit, undo, useDesk, useView } from '../../desk/desk-store.ts';
import { chooseClipFolder, chooseClips } from '../../frame/pick.ts';
import { say } from '../../frame/said.tsx';
import { Button } from '../../parts/button.tsx';
import { Explain } from '../../parts/explain.tsx';
import { Note } from '../../parts/note.tsx';
import { askAboutTakes, useArrival } from './arrival.ts';
import { ArrivalPart } from './arrival-part.tsx';
import { GuideLine } from './guide-line.tsx';
import { MissingClips } from './missing-clips.tsx';
import { proposedChoices, proposedEdit } from './proposed-takes.ts';
import { takesOf } from './take-edits.ts';
import { VoiceRows } from './voice-rows.tsx';
import './takes-bench.css';

const NOBODY: readonly string[] = [];

/** What was deleted last, and the session as it was right after, to know whether it is still the last change. */
interface Deleted {
  readonly name: string;
  readonly after: Session | undefined;
}

/** The bench of Takes: voices and their takes, in the order of the score. */
export function TakesBench() {
  const view = useView();
  const [deleted, setDeleted] = useState<Deleted | null>(null);
  const [moved, setMoved] = useState('');
  const onDeleted = (name: string): void => setDeleted({ name, after: useDesk.getState().view?.session });
  return (
    <div className="takes">
      <TakesTop />
      <div role="status">
        {deleted !== null && deleted.after === view.session && (
          <DeletedNote name={deleted.name} onUndone={() => setDeleted(null)} />
        )}
        <span className="unseen">{moved}</span>
      </div>
      <MissingClips />
      <ArrivalPart />
      <GuideLine />
      {view.session.voices.length > 0 && (
        <div className="takes-scroll">
          <table className="takes-table">
            <TakesHead />
            {view.session.voices.map((voice, at) => (
              <VoiceRows
                key={voice.id}
                voice={voice}
                at={at}
                session={view.session}
                onDeleted={onDeleted}
                onMoved={(to) => setMoved(`${voice.name} is voice ${to + 1} of ${view.session.voices.length} now.`)}
              />
            ))}
          </table>
        </div>
      )}
      <StretchHint session={view.session} />
    </div>
  );
}

/** What stands over the voices: how far the takes are, and what adds to them or judges them all. */
function TakesTop() {
  const { session, steps } = useView();
  return (
    <div className="takes-head">
      <h2>Takes</h2>
      <p className="faint">{steps.takes.sentence}</p>
      <div className="takes-add">
        <Button
          kind={session.voices.length === 0 ? 'main' : 'plain'}
          onClick={() => void chooseClips({ kind: 'newVoices' })}
        >
          Add clips …
        </Button>
        <Button onClick={() => void chooseClipFolder({ kind: 'newVoices' })}>Add a folder …</Button>
        <GroupAgain />
        <CompareAll />
        <UseProposed />
      </div>
    </div>
  );
}

/** What was deleted, and the way back. */
function DeletedNote({ name, onUndone }: { readonly name: string; readonly onUndone: () => void }) {
  const back = (): void => {
    undo();
    onUndone();
  };
  return (
    <Note
      actions={
        <Button small onClick={back}>
          Undo
        </Button>
      }
    >
      Deleted: {name}. Clips stay where they are.
    </Note>
  );
}

/** How a voice is put together from several takes, until one is. */
function StretchHint({ session }: { readonly session: Session }) {
  const { voices } = session;
  const several = voices.find(({ id }) => takesOf(session, id).length > 1);
  if (several === undefined || voices.some(({ passages }) => passages !== null)) return null;
  return (
    <p className="small faint">
      To use a stretch of another take: unfold {several.name} in the lanes, drag over the stretch in that take’s lane,
      and choose “Use this take here” from its menu (right click, or the dots beside its name).
    </p>
  );
}

/** Asks anew which clips are of which voice. */
function GroupAgain() {
  const { session, folder } = useView();
  const takeIds = useArrival((state) => (state.folder === folder ? state.takeIds : NOBODY));
  if (session.takes.length < 2) return null;
  return (
    <Button
      disabled={takeIds.length > 1}
      title="By order, by hand, or a voice each"
      onClick={() =>
        askAboutTakes(
          folder,
          session.takes.map(({ id }) => id),
          true,
        )
      }
    >
      Give clips to voices …
    </Button>
  );
}

/** Has all takes of voices that have several listened to; nothing once that is known. */
function CompareAll() {
  const { session, takes, jobs } = useView();
  const several = session.takes.filter((take) => takesOf(session, take.voiceId).length > 1);
  const isListening = jobs.some((job) => job.kind === 'pitch');
  if (several.length === 0 || (!isListening && several.every(({ id }) => takes[id]?.played != null))) return null;
  return (
    <Button
      disabled={isListening}
      title="Listens to the takes of all voices that have several: some seconds for each"
      onClick={() => void ask((bridge) => bridge.calls.listenToTakes({}))}
    >
      {isListening ? 'Comparing timing and pitch …' : 'Compare timing and pitch, too'}
    </Button>
  );
}

/** From two voices on that sound with another take than is proposed: all proposals at once. */
function UseProposed() {
  const { session, takes } = useView();
  const choices = useMemo(() => proposedChoices(session, takes), [session, takes]);
  if (choices.length < 2) return null;
  return (
    <Button
      title="Each voice that is not made of passages; one undo takes it back"
      onClick={() => {
        edit(proposedEdit(choices));
        say(`${choices.length} voices sound with the take that is proposed.`);
      }}
    >
      Let the {choices.length} proposed takes sound
    </Button>
  );
}

function TakesHead() {
  return (
    <thead>
      <tr>
        <th scope="col">Sounds</th>
        <th scope="col">
          <Explain word="take">Take</Explain>
        </th>
        <th scope="col">Listen</th>
        <th scope="col" className="number">
          Length
        </th>
        <th scope="col" className="number">
          <Explain word="peak">Peak</Explain>, <Explain word="dbfs" />
        </th>
        <th scope="col">
          <Explain word="clipped">Clipped</Explain>
        </th>
        <th scope="col">File</th>
        <th scope="col">
          <span className="unseen">More</span>
        </th>
      </tr>
    </thead>
  );
}
