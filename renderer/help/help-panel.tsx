import { useEffect, useRef, useState } from 'react';
import { useBench } from '../desk/bench-store.ts';
import { useDesk } from '../desk/desk-store.ts';
import { Button } from '../parts/button.tsx';
import { keyNames, setSingleKeys, useShortcuts } from './shortcuts.ts';
import { words } from './words.ts';
import './help-panel.css';

/** Help beside the work: the way through the job, the keys, the words. It can stay open while one works. */
export function HelpPanel() {
  const title = useRef<HTMLHeadingElement>(null);
  useEffect(() => {
    const before = document.activeElement;
    title.current?.focus();
    // Read, and gone on where one was.
    return () => {
      if (before instanceof HTMLElement && before !== document.body) before.focus({ preventScroll: true });
    };
  }, []);
  const onKeyDown = (event: React.KeyboardEvent): void => {
    // In the search field Escape first clears what was sought.
    const seeks =
      event.target instanceof HTMLInputElement && event.target.value !== '' && event.target.type === 'search';
    if (event.key === 'Escape' && !seeks) useBench.setState({ helpOpen: false });
  };
  return (
    <aside className="help" aria-labelledby="help-title" onKeyDown={onKeyDown}>
      <div className="help-head">
        <h2 id="help-title" tabIndex={-1} ref={title}>
          Help
        </h2>
        <Button small onClick={() => useBench.setState({ helpOpen: false })}>
          Close help
        </Button>
      </div>
      <Way />
      <Keys />
      <Words />
    </aside>
  );
}

function Way() {
  return (
    <section>
      <h3>The way through</h3>
      <ol className="help-way">
        <li>
          <strong>Guide.</strong> Make what you will hear in your headphones while you record: a silence, a cue to clap
          on, a count-in, and the piece from its score or as a click.
        </li>
        <li>
          <strong>Sound check.</strong> Record half a minute and let Partsong say what to change before you play the
          whole piece.
        </li>
        <li>
          <strong>Takes.</strong> Drop your clips on the window. Each becomes a voice; drop a clip on a voice to give it
          one more take, and choose which take sounds.
        </li>
        <li>
          <strong>Clean.</strong> Partsong finds a stretch where nobody plays and takes that noise out. Listen before,
          after, and to what was taken away.
        </li>
        <li>
          <strong>Line up.</strong> All takes are laid on one time line. Where the evidence is weak you are asked.
        </li>
        <li>
          <strong>Intonation.</strong> If you like, let Partsong listen to the pitch: what A you play by, which chords
          are out of tune, who is early or late.
        </li>
        <li>
          <strong>Blend.</strong> Voices are brought to their loudness and set on the stage. Move what you wish.
        </li>
        <li>
          <strong>Picture.</strong> If you filmed yourself, the clips become tiles of one video, in time with the mix.
        </li>
        <li>
          <strong>Render.</strong> The mix is written as a file, at the loudness you choose.
        </li>
      </ol>
      <p>
        Nothing is ever changed in your clips, everything can be undone, and the session saves itself. All of it happens
        on this computer.
      </p>
      <p>
        <strong>Headphones:</strong> start with the volume low, then raise it. Loud sound over a long time harms hearing
        for good.
      </p>
    </section>
  );
}

function Keys() {
  const { groups, singleKeys } = useShortcuts();
  const isMac = useDesk((state) => state.start?.platform === 'darwin');
  return (
    <section>
      <h3>Keys</h3>
      <label className="tick">
        <input type="checkbox" checked={singleKeys} onChange={(event) => setSingleKeys(event.target.checked)} />
        Keys without {isMac ? '⌘' : 'Ctrl'} work too
      </label>
      {groups.map((group) => (
        <table key={group.title} className="help-keys">
          <caption>{group.title}</caption>
          <tbody>
            {group.shortcuts.map((shortcut) => (
              <tr key={shortcut.keys}>
                <th scope="row">
                  {keyNames(shortcut.keys, isMac).map((name) => (
                    <kbd key={name}>{name}</kbd>
                  ))}
                </th>
                <td>{shortcut.words}</td>
              </tr>
            ))}
          </tbody>
        </table>
      ))}
    </section>
  );
}

function Words() {
  const [sought, setSought] = useState('');
  const found = Object.values(words)
    .filter((word) => `${word.name} ${word.text}`.toLowerCase().includes(sought.trim().toLowerCase()))
    .sort((one, other) => one.name.localeCompare(other.name));
  return (
    <section>
      <h3>Words</h3>
      <input
        type="search"
        className="help-search"
        aria-label="Search the words"
        placeholder="Search the words"
        value={sought}
        onChange={(event) => setSought(event.target.value)}
      />
      <dl className="help-words">
        {found.map((word) => (
          <div key={word.name}>
            <dt>{word.name}</dt>
            <dd>{word.text}</dd>
          </div>
        ))}
      </dl>
      {found.length === 0 && <p className="faint">No word has “{sought}” in it.</p>}
    </section>
  );
}
