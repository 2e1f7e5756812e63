import { type DragEvent, useState } from 'react';
import type { Session, Voice } from '../../../core/session/schema.ts';
import { useBench } from '../../desk/bench-store.ts';
import { edit, soundingTake } from '../../desk/desk-store.ts';
import { StateSign } from '../../parts/state-sign.tsx';
import { dropPosition, takesOf } from './take-edits.ts';
import { TakeRow } from './take-row.tsx';
import { VoiceHead } from './voice-head.tsx';

const DRAGGED = 'application/x-partsong-voice';

export interface VoiceRowsProps {
  readonly voice: Voice;
  readonly at: number;
  readonly session: Session;
  readonly onDeleted: (name: string) => void;
  readonly onMoved: (to: number) => void;
}

/** A voice and the takes of it. */
export function VoiceRows({ voice, at, session, onDeleted, onMoved }: VoiceRowsProps) {
  const takes = takesOf(session, voice.id);
  const sounding = soundingTake(session, voice);
  const [over, setOver] = useState(false);
  const inHand = useBench((state) => state.voiceId === voice.id);
  const move = (to: number): void => {
    edit({ kind: 'moveVoice', voiceId: voice.id, to });
    onMoved(to);
  };
  const onDrop = (event: DragEvent): void => {
    const dragged = event.dataTransfer.getData(DRAGGED);
    setOver(false);
    if (dragged === '') return;
    event.preventDefault();
    const to = dropPosition(
      session.voices.map((one) => one.id),
      dragged,
      voice.id,
    );
    if (to !== null) edit({ kind: 'moveVoice', voiceId: dragged, to });
  };
  return (
    <tbody
      className={`takes-voice ${over ? 'takes-voice-over' : ''} ${inHand ? 'takes-voice-in-hand' : ''}`}
      data-drop-voice={voice.id}
      onDragOver={(event) => {
        if (!event.dataTransfer.types.includes(DRAGGED)) return;
        event.preventDefault();
        setOver(true);
      }}
      onDragLeave={() => setOver(false)}
      onDrop={onDrop}
    >
      <VoiceHead
        voice={voice}
        at={at}
        last={session.voices.length - 1}
        dragType={DRAGGED}
        onMove={move}
        onDelete={() => {
          edit({ kind: 'removeVoice', voiceId: voice.id });
          onDeleted(withTakes(voice.name, takes.length));
        }}
      />
      {takes.length === 0 && (
        <tr>
          <td colSpan={8} className="faint takes-none">
            No take yet. Drop a clip here, or add one.
          </td>
        </tr>
      )}
      {takes.length > 1 && sounding === undefined && (
        <tr>
          <td colSpan={8} className="takes-none">
            <StateSign state="lookHere" /> Choose the take that sounds; until then this voice is left out.
          </td>
        </tr>
      )}
      {takes.map((take) => (
        <TakeRow
          key={take.id}
          take={take}
          voice={voice}
          session={session}
          sounds={take === sounding}
          onDeleted={onDeleted}
        />
      ))}
    </tbody>
  );
}

function withTakes(name: string, count: number): string {
  if (count === 0) return name;
  return `${name} with ${count === 1 ? 'its take' : `its ${count} takes`}`;
}
