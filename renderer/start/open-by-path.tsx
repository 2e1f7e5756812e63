import { useState } from 'react';
import { openChosenSession, openSession } from '../frame/frame-commands.ts';
import { Button } from '../parts/button.tsx';

/** Opens a session: by the window's dialog, or in a browser, which has none, by the path of its folder. */
export function OpenByPath({ home, door }: { home: string; door: 'window' | 'browser' }) {
  const [folder, setFolder] = useState('');
  return (
    <section>
      <h2>Open a session</h2>
      {door === 'window' ? (
        <Button onClick={() => void openChosenSession()}>Choose its folder …</Button>
      ) : (
        <form
          className="start-line"
          onSubmit={(event) => {
            event.preventDefault();
            if (folder.trim() !== '') void openSession(folder.trim());
          }}
        >
          <input
            type="text"
            aria-label="Path of the session’s folder"
            placeholder={`${home}/my-piece`}
            maxLength={4096}
            value={folder}
            spellCheck={false}
            onChange={(event) => setFolder(event.target.value)}
          />
          <Button type="submit" disabled={folder.trim() === ''}>
            Open
          </Button>
        </form>
      )}
    </section>
  );
}
