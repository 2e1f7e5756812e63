import { type DragEvent, useState } from 'react';
import type { Session, Voice } from '../../../core/session/schema.ts';
import { useBench } from '../../desk/bench-store.ts';
import { edit, soundingTake } from '../../desk/desk-store.ts';
import { chooseClips } from '../../frame/pick.ts';
import { Button } from '../../parts/button.tsx';
import { StateSign } from '../../parts/state-sign.tsx';
import { TypedName } from '../../parts/typed-name.tsx';
import { ColourMenu } from './colour-menu.tsx';
import { RoleChoice } from './role-choice.tsx';
import { dropPosition, takesOf } from './take-edits.ts';
import { TakeRow } from './take-row.tsx';

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
      <tr>
        <th scope="rowgroup" colSpan={8} className="takes-voice-head">
          <div className="takes-voice-line">
            <span
              className="takes-grip"
              draggable
              title="Drag to change the order of the voices"
              aria-hidden="true"
              onDragStart={(event) => {
                event.dataTransfer.setData(DRAGGED, voice.id);
                event.dataTransfer.effectAllowed = 'move';
              }}
            >
              <svg viewBox="0 0 10 16" width="10" height="16" aria-hidden="true">
                <path d="M1 4H9M1 8H9M1 12H9" className="takes-grip-line" />
              </svg>
            </span>
            <ColourMenu voice={voice} />
            <TypedName
              className="takes-voice-name"
              label={`Name of voice ${at + 1}`}
              value={voice.name}
              onChange={(name) => edit({ kind: 'renameVoice', voiceId: voice.id, name })}
            />
            <RoleChoice voice={voice} />
            <Button
              small
              kind="quiet"
              disabled={at === 0}
              aria-label={`Move ${voice.name} up`}
              title="Move up"
              onClick={() => move(at - 1)}
            >
              ↑
            </Button>
            <Button
              small
              kind="quiet"
              disabled={at === session.voices.length - 1}
              aria-label={`Move ${voice.name} down`}
              title="Move down"
              onClick={() => move(at + 1)}
            >
              ↓
            </Button>
            <Button
              small
              aria-label={`Add takes of ${voice.name}`}
              onClick={() => void chooseClips({ kind: 'voice', voiceId: voice.id })}
            >
              Add takes …
            </Button>
            <Button
              small
              kind="quiet"
              aria-label={`Delete voice ${voice.name}, with its takes`}
              onClick={() => {
                edit({ kind: 'removeVoice', voiceId: voice.id });
                onDeleted(
                  takes.length === 0
                    ? voice.name
                    : `${voice.name} with ${takes.length === 1 ? 'its take' : `its ${takes.length} takes`}`,
                );
              }}
            >
              Delete voice
            </Button>
          </div>
        </th>
      </tr>
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
