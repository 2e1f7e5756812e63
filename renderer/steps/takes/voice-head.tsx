import type { Voice } from '../../../core/session/schema.ts';
import { edit } from '../../desk/desk-store.ts';
import { chooseClips } from '../../frame/pick.ts';
import { Button } from '../../parts/button.tsx';
import { TypedName } from '../../parts/typed-name.tsx';
import { ColourMenu } from './colour-menu.tsx';
import { RoleChoice } from './role-choice.tsx';

export interface VoiceHeadProps {
  readonly voice: Voice;
  readonly at: number;
  /** Place of the last voice. */
  readonly last: number;
  /** The kind of data under which its id is dragged. */
  readonly dragType: string;
  readonly onMove: (to: number) => void;
  readonly onDelete: () => void;
}

/** The head of a voice: sign, name, role, place in the order, and what can be done with it. */
export function VoiceHead(props: VoiceHeadProps) {
  const { voice, at, last, dragType, onMove } = props;
  return (
    <tr>
      <th scope="rowgroup" colSpan={8} className="takes-voice-head">
        <div className="takes-voice-line">
          <span
            className="takes-grip"
            draggable
            title="Drag to change the order of the voices"
            aria-hidden="true"
            onDragStart={(event) => {
              event.dataTransfer.setData(dragType, voice.id);
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
            onClick={() => onMove(at - 1)}
          >
            ↑
          </Button>
          <Button
            small
            kind="quiet"
            disabled={at === last}
            aria-label={`Move ${voice.name} down`}
            title="Move down"
            onClick={() => onMove(at + 1)}
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
          <Button small kind="quiet" aria-label={`Delete voice ${voice.name}, with its takes`} onClick={props.onDelete}>
            Delete voice
          </Button>
        </div>
      </th>
    </tr>
  );
}
