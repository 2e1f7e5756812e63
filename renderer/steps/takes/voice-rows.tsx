import { type DragEvent, useMemo, useState } from 'react';
import type { Session, Voice } from '../../../core/session/schema.ts';
import { useBench } from '../../desk/bench-store.ts';
import { edit, soundingTake, useDesk } from '../../desk/desk-store.ts';
import { isHeard } from '../../lanes/lane-parts.ts';
import { StateSign } from '../../parts/state-sign.tsx';
import { PassagesPart } from '../../passages/passages-part.tsx';
import { dropPosition, takesOf } from './take-edits.ts';
import { Proposal } from './take-judgement.tsx';
import { TakeRow } from './take-row.tsx';
import { pieceSpan, sheetOf } from './take-sheet.ts';
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
  const takes = useMemo(() => takesOf(session, voice.id), [session, voice.id]);
  const sounding = soundingTake(session, voice);
  const facts = useDesk((state) => state.view?.takes);
  const sheet = useMemo(() => sheetOf(takes, facts ?? {}, pieceSpan(session, facts ?? {})), [takes, facts, session]);
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
      {sheet?.best != null && (
        <tr>
          <td colSpan={8} className="takes-none">
            <Proposal voice={voice} takes={takes} best={sheet.best} soundingId={sounding?.id} />
          </td>
        </tr>
      )}
      {takes.map((take) => (
        <TakeRow
          key={take.id}
          take={take}
          voice={voice}
          session={session}
          sounds={isHeard(session, voice, take)}
          worth={sheet?.worths.get(take.id)}
          isOneOfMany={takes.length > 1}
          onDeleted={onDeleted}
        />
      ))}
      {voice.passages !== null && (
        <tr>
          <td colSpan={8}>
            <PassagesPart voice={voice} />
          </td>
        </tr>
      )}
    </tbody>
  );
}

function withTakes(name: string, count: number): string {
  if (count === 0) return name;
  return `${name} with ${count === 1 ? 'its take' : `its ${count} takes`}`;
}
