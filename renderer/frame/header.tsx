import { useBench } from '../desk/bench-store.ts';
import { ask, edit, redo, undo, useDesk, useView } from '../desk/desk-store.ts';
import { Button } from '../parts/button.tsx';
import { TypedName } from '../parts/typed-name.tsx';
import { ThemeChoice } from '../theme/theme-choice.tsx';

const saveWords = { saved: 'Saved', saving: 'Saving …', failed: 'Not saved' } as const;

/** Title, save state, undo and redo, theme, help. */
export function Header() {
  const view = useView();
  const helpOpen = useBench((state) => state.helpOpen);
  return (
    <header className="header">
      <h1 className="header-title">
        <span className="unseen">Partsong, session {view.session.title}</span>
        <TypedName
          className="header-name"
          label="Title of the session"
          value={view.session.title}
          mayBeEmpty
          placeholder="Untitled"
          onChange={(title) => edit({ kind: 'setTitle', title })}
        />
      </h1>
      <SaveState />
      <div className="header-group">
        <Back label={view.undoLabel} words="Undo" onPress={undo} />
        <Back label={view.redoLabel} words="Redo" onPress={redo} />
      </div>
      <div className="header-group header-end">
        <ThemeChoice />
        <Button
          kind="quiet"
          aria-pressed={helpOpen}
          onClick={() => useBench.setState({ helpOpen: !helpOpen })}
          title="Help, words and shortcuts"
        >
          Help
        </Button>
        <Button kind="quiet" onClick={() => void ask((bridge) => bridge.calls.closeSession({}))}>
          Close session
        </Button>
      </div>
    </header>
  );
}

function SaveState() {
  const saved = useDesk((state) => state.view?.saved ?? 'saved');
  return (
    <span className={saved === 'failed' ? 'header-saved wrong' : 'header-saved faint'} role="status">
      {saveWords[saved]}
    </span>
  );
}

function Back({ label, words, onPress }: { label: string | null; words: 'Undo' | 'Redo'; onPress: () => void }) {
  return (
    <Button
      kind="quiet"
      className="header-back"
      disabled={label === null}
      onClick={onPress}
      title={label === null ? `Nothing to ${words.toLowerCase()}` : `${words}: ${label}`}
    >
      <span>{words}</span>
      {label !== null && <span className="header-label">{label}</span>}
    </Button>
  );
}
