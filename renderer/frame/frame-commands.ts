import { useEffect } from 'react';
import type { StepName } from '../../app/shell/contract/desk-view.ts';
import type { MenuCommand } from '../../app/shell/contract/events.ts';
import { useBench } from '../desk/bench-store.ts';
import { ask, onMenu, redo, stepsInOrder, theBridge, undo, useDesk } from '../desk/desk-store.ts';
import { addShortcuts } from '../help/shortcuts.ts';
import { nextTheme, setTheme } from '../theme/theme.ts';
import { beginSession } from './bring-in.ts';
import { openBy } from './opening.ts';
import { chooseClips } from './pick.ts';
import { toBench, toLanes, toOrder } from './to-place.ts';

/** Runs what the window's menu asks for. */
function runCommand(command: MenuCommand): void {
  const isOpen = useDesk.getState().view !== null;
  switch (command) {
    case 'newSession':
      void beginSession('Untitled');
      return;
    case 'openSession':
      void openChosenSession();
      return;
    case 'addClips':
      void chooseClips({ kind: 'newVoices' });
      return;
    case 'closeSession':
      if (isOpen) void ask((bridge) => bridge.calls.closeSession({}));
      return;
    case 'undo':
      if (isOpen) undo();
      return;
    case 'redo':
      if (isOpen) redo();
      return;
    case 'render':
      useBench.setState({ step: 'render' });
      return;
    case 'help':
      toggleHelp();
      return;
    case 'theme':
      setTheme(nextTheme(useBench.getState().theme));
  }
}

/** Lets the user choose a session's folder in the window's dialog and opens it. */
export async function openChosenSession(): Promise<void> {
  const folder = await ask((bridge) => bridge.calls.pickFolder({ title: 'Open a session' }));
  if (typeof folder === 'string') await openSession(folder);
}

/** Opens the session in a folder. */
export async function openSession(folder: string): Promise<void> {
  await openBy('The session is opened …', (bridge) => bridge.calls.openSession({ folder }));
}

/**
 * Shows the bench of a step. Asked for the step that is at hand, it gives its bench the focus; so it does where nothing has
 * it. Else the keyboard's place stays: in a lane one goes on, and a bench that goes hands it to the next.
 */
export function goToStep(step: StepName): void {
  const isThere = useBench.getState().step === step;
  useBench.setState({ step });
  if (isThere) toBench();
  else if (document.activeElement === document.body) requestAnimationFrame(toBench);
}

function toggleHelp(): void {
  useBench.setState(({ helpOpen }) => ({ helpOpen: !helpOpen }));
}

/** Listens for the menu and lays out the shortcuts of the frame. */
export function useFrameCommands(): void {
  useEffect(() => onMenu(runCommand), []);
  useEffect(
    () =>
      addShortcuts('Everywhere', [
        ...stepsInOrder.map(({ name, label }, at) => ({
          keys: String(at + 1),
          words: `Go to ${label}`,
          run: () => goToStep(name),
        })),
        { keys: 'b', words: 'To the bench of the step, below the lanes', run: toBench },
        { keys: 'l', words: 'To the lanes', run: toLanes },
        { keys: 'o', words: 'To the running order', run: toOrder },
        { keys: 'mod+z', words: 'Undo', run: () => runCommand('undo') },
        { keys: 'mod+shift+z', words: 'Redo', run: () => runCommand('redo') },
        { keys: '?', words: 'Help, and away with it', run: toggleHelp },
      ]),
    [],
  );
  useEffect(() => {
    // In a browser these keys are the browser's own. The window's menu shows them.
    if (theBridge().door !== 'window') return undefined;
    return addShortcuts('The window', [
      { keys: 'mod+shift+n', words: 'New session', run: () => runCommand('newSession') },
      { keys: 'mod+o', words: 'Open a session', run: () => runCommand('openSession') },
      { keys: 'mod+shift+a', words: 'Add clips', run: () => runCommand('addClips') },
      { keys: 'mod+shift+enter', words: 'Render', run: () => runCommand('render') },
      { keys: 'mod+shift+w', words: 'Close the session', run: () => runCommand('closeSession') },
      { keys: 'mod+shift+l', words: 'Paper or night', run: () => runCommand('theme') },
      { keys: 'f1', words: 'Help, and away with it', run: () => runCommand('help') },
    ]);
  }, []);
}
