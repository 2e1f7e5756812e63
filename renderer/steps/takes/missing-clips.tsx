import { useState } from 'react';
import { ask, theBridge, useView } from '../../desk/desk-store.ts';
import { Button } from '../../parts/button.tsx';
import { Note } from '../../parts/note.tsx';

/** When clips are missing: search a folder for all of them at once, by what is in them. */
export function MissingClips() {
  const takes = useView().takes;
  const [found, setFound] = useState('');
  const [folder, setFolder] = useState('');
  const count = Object.values(takes).filter((facts) => facts.state === 'missing').length;
  const isBrowser = theBridge().door === 'browser';
  const search = async (): Promise<void> => {
    const where = isBrowser
      ? folder.trim()
      : await ask((bridge) => bridge.calls.pickFolder({ title: 'Search for missing clips' }));
    if (where === undefined || where === null || where === '') return;
    const answer = await ask((bridge) => bridge.calls.searchMissing({ folder: where }));
    if (answer !== undefined) setFound(`${answer.found} found, ${answer.missing} still missing.`);
  };
  return (
    <div role="status">
      {count > 0 && (
        <Note kind="look" title={count === 1 ? 'One clip is missing.' : `${count} clips are missing.`}>
          <form
            className="takes-search"
            onSubmit={(event) => {
              event.preventDefault();
              void search();
            }}
          >
            <span>
              Partsong can search a folder for {count === 1 ? 'it' : 'them'}, also under another name. {found}
            </span>
            {isBrowser && (
              <input
                type="text"
                aria-label="Path of the folder to search"
                placeholder="Path of a folder"
                value={folder}
                spellCheck={false}
                onChange={(event) => setFolder(event.target.value)}
              />
            )}
            <Button small type="submit" disabled={isBrowser && folder.trim() === ''}>
              {isBrowser ? 'Search' : 'Search a folder …'}
            </Button>
          </form>
        </Note>
      )}
    </div>
  );
}
