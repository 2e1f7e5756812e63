import type { RecentView } from '../../app/shell/contract/desk-view.ts';
import { ask, useDesk } from '../desk/desk-store.ts';
import { openSession } from '../frame/frame-commands.ts';
import { Button } from '../parts/button.tsx';
import { dayWords } from './day-words.ts';

/** Sessions that were open before, newest first. */
export function Recents({ recents }: { recents: readonly RecentView[] }) {
  if (recents.length === 0) return null;
  return (
    <section className="recents" aria-labelledby="recents-title">
      <h2 className="caps" id="recents-title">
        Sessions
      </h2>
      <ul className="recents-list">
        {recents.map((recent) => (
          <li key={recent.folder} className="recents-item">
            <button
              type="button"
              className="recents-open"
              disabled={recent.isMissing}
              onClick={() => void openSession(recent.folder)}
            >
              <span className="recents-title">{recent.title === '' ? 'Untitled' : recent.title}</span>
              <span className="faint small">
                {recent.voices === 1 ? '1 voice' : `${recent.voices} voices`} · {dayWords(recent.openedAt, new Date())}
              </span>
              <span className={recent.isMissing ? 'wrong small path' : 'faint small path'}>
                {recent.isMissing ? `Not found: ${recent.folder}` : recent.folder}
              </span>
            </button>
            <Button small kind="quiet" aria-label={`Forget ${recent.title}`} onClick={() => void forget(recent.folder)}>
              Forget
            </Button>
          </li>
        ))}
      </ul>
    </section>
  );
}

async function forget(folder: string): Promise<void> {
  await ask((bridge) => bridge.calls.forgetRecent({ folder }));
  useDesk.setState(({ start }) =>
    start === null ? {} : { start: { ...start, recents: start.recents.filter((one) => one.folder !== folder) } },
  );
}
