import { heardTakes } from '../../../core/session/passages.ts';
import type { Take, Voice } from '../../../core/session/schema.ts';
import { takeInHand } from '../../desk/bench-store.ts';
import { useView } from '../../desk/desk-store.ts';
import { Button } from '../../parts/button.tsx';
import { Field } from '../../parts/field.tsx';
import { Note } from '../../parts/note.tsx';
import type { TakeOfVoice } from '../drawing/take-at-hand.ts';

/** Why nothing is proposed for a take: most often another take of its voice sounds, and only what sounds is listened to. */
export function Unmeasured({ take, voice }: { readonly take: Take; readonly voice: Voice }) {
  const { session } = useView();
  const [heard] = heardTakes(session, voice);
  if (heard === undefined || heardTakes(session, voice).some(({ id }) => id === take.id)) {
    return <Note kind="look">No pitch of this take was measured, so nothing is proposed for it.</Note>;
  }
  return (
    <Note
      kind="look"
      actions={
        <Button small onClick={() => takeInHand(voice.id, heard.id)}>
          Mend {heard.name}
        </Button>
      }
    >
      {voice.name} does not sound with this take: only takes that sound are listened to, so nothing is proposed for it.
    </Note>
  );
}

/** Which take is mended: those that are heard. */
export function TakeChoice({ atHand }: { readonly atHand: TakeOfVoice }) {
  const { session } = useView();
  const heard = session.voices.flatMap((voice) => heardTakes(session, voice).map((take) => ({ voice, take })));
  const isAmong = heard.some(({ take }) => take.id === atHand.take.id);
  const all = isAmong ? heard : [atHand, ...heard];
  return (
    <Field label="Take">
      {(ids) => (
        <select
          {...ids}
          value={atHand.take.id}
          onChange={(event) => {
            const found = all.find(({ take }) => take.id === event.target.value);
            if (found !== undefined) takeInHand(found.voice.id, found.take.id);
          }}
        >
          {all.map(({ voice, take }) => (
            <option key={take.id} value={take.id}>
              {voice.name === take.name ? take.name : `${voice.name}: ${take.name}`}
              {take.mend === null ? '' : ' (mended)'}
            </option>
          ))}
        </select>
      )}
    </Field>
  );
}
