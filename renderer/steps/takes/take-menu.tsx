import type { Session, Take } from '../../../core/session/schema.ts';
import { edit, useTakeFacts } from '../../desk/desk-store.ts';
import { VoiceSign } from '../../lanes/voice-sign.tsx';
import { Button } from '../../parts/button.tsx';
import { Popup } from '../../parts/popup.tsx';
import { PartEdges } from './part-edges.tsx';
import { deleteTakeEdit, moveTakeEdit, takeToNewVoiceEdit } from './take-edits.ts';
import { clippedWords, fileWords } from './take-words.ts';

/** What else can be done with a take: give it to another voice, or delete it. */
export function TakeMenu({
  take,
  session,
  onDeleted,
}: {
  take: Take;
  session: Session;
  onDeleted: (name: string) => void;
}) {
  const facts = useTakeFacts(take.id);
  const others = session.voices.filter((voice) => voice.id !== take.voiceId);
  return (
    <Popup button="More" label={`More for ${take.name}`}>
      {(close) => (
        <div className="takes-menu">
          <p className="small faint path">
            {facts?.file ?? take.clip.path}
            {facts?.state === 'ready' && <br />}
            {facts?.state === 'ready' && `${fileWords(facts)}; clipped: ${clippedWords(facts)}`}
          </p>
          <PartEdges take={take} facts={facts} />
          <h3>Give it to</h3>
          <ul>
            {others.map((voice) => (
              <li key={voice.id}>
                <Button
                  small
                  kind="quiet"
                  className="takes-menu-item"
                  onClick={() => {
                    close();
                    edit(moveTakeEdit(session, take, voice));
                  }}
                >
                  <VoiceSign colour={voice.colour} /> {voice.name}
                </Button>
              </li>
            ))}
            <li>
              <Button
                small
                kind="quiet"
                className="takes-menu-item"
                onClick={() => {
                  close();
                  edit(takeToNewVoiceEdit(session, take, `voice-${crypto.randomUUID().slice(0, 8)}`));
                }}
              >
                A voice of its own
              </Button>
            </li>
          </ul>
          <hr />
          <Button
            small
            kind="removes"
            onClick={() => {
              close();
              edit(deleteTakeEdit(session, take));
              onDeleted(take.name);
            }}
          >
            Delete the take
          </Button>
        </div>
      )}
    </Popup>
  );
}
