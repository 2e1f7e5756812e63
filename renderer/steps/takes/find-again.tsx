import { useState } from 'react';
import type { Take } from '../../../core/session/schema.ts';
import { ask } from '../../desk/desk-store.ts';
import { chooseFile } from '../../frame/pick.ts';
import { Button } from '../../parts/button.tsx';
import { Note } from '../../parts/note.tsx';
import { fileName } from './take-words.ts';

/** A clip that is not where it was: choose its file again; another file is used only after a warning. */
export function FindAgain({ take, file }: { take: Take; file: string }) {
  const [other, setOther] = useState<string | null>(null);
  const relink = async (path: string, evenIfOther: boolean): Promise<void> => {
    const answer = await ask((bridge) => bridge.calls.relink({ takeId: take.id, file: path, evenIfOther }));
    setOther(answer !== undefined && !answer.relinked && answer.isOther ? path : null);
  };
  const choose = async (): Promise<void> => {
    const path = await chooseFile(`Find the clip of ${take.name}`);
    if (path !== null) await relink(path, false);
  };
  if (other !== null) {
    return (
      <Note
        kind="look"
        title="This is another recording."
        actions={
          <>
            <Button small onClick={() => void relink(other, true)}>
              Use it all the same
            </Button>
            <Button small onClick={() => setOther(null)}>
              Do not use it
            </Button>
          </>
        }
      >
        {fileName(other)} does not hold the sound that {take.name} had. If you use it, the take is read, cleaned and
        lined up anew.
      </Note>
    );
  }
  return (
    <Note
      kind="wrong"
      title="The clip is not where it was."
      actions={
        <Button small onClick={() => void choose()}>
          Choose the file …
        </Button>
      }
    >
      <span className="path">{file}</span>
    </Note>
  );
}
