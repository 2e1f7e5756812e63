import type { MenuItemConstructorOptions } from 'electron';
import type { MenuCommand } from '../contract/events.ts';

type Item = MenuItemConstructorOptions;

const RULE: Item = { type: 'separator' };

/**
 * The window's menu. Commands go to the page, which knows what they mean just now; keys that the page listens to itself are
 * shown here but left to it, so that a text field keeps its own undo. None has Ctrl and Alt together, with which many
 * keyboards write letters. send: asks the page for a command.
 */
export function menuTemplate(platform: string, isDeveloping: boolean, send: (command: MenuCommand) => void): Item[] {
  const isMac = platform === 'darwin';
  const item = (label: string, command: MenuCommand, keys?: string): Item => ({
    label,
    click: () => send(command),
    ...(keys === undefined ? {} : { accelerator: keys }),
  });
  const ofPage = (label: string, command: MenuCommand, keys: string): Item => ({
    ...item(label, command, keys),
    registerAccelerator: false,
  });
  const onMac = (...items: Item[]): Item[] => (isMac ? items : []);
  const elsewhere = (...items: Item[]): Item[] => (isMac ? [] : items);
  const forDevelopers = (...items: Item[]): Item[] => (isDeveloping ? items : []);
  const session: Item[] = [
    item('&New session', 'newSession', 'CommandOrControl+Shift+N'),
    item('&Open a session…', 'openSession', 'CommandOrControl+O'),
    ...onMac({ role: 'recentDocuments', submenu: [{ role: 'clearRecentDocuments' }] }),
    RULE,
    item('&Add clips…', 'addClips', 'CommandOrControl+Shift+A'),
    item('&Render…', 'render', 'CommandOrControl+Shift+Return'),
    RULE,
    item('&Close the session', 'closeSession', 'CommandOrControl+Shift+W'),
    ...elsewhere(RULE, { role: 'quit' }),
  ];
  const edit: Item[] = [
    ofPage('&Undo', 'undo', 'CommandOrControl+Z'),
    ofPage('&Redo', 'redo', 'CommandOrControl+Shift+Z'),
    RULE,
    { role: 'cut' },
    { role: 'copy' },
    { role: 'paste' },
    { role: 'selectAll' },
  ];
  const view: Item[] = [
    item('Paper or &night', 'theme', 'CommandOrControl+Shift+L'),
    RULE,
    { role: 'zoomIn', label: '&Larger' },
    { role: 'zoomOut', label: '&Smaller' },
    { role: 'resetZoom', label: '&Usual size' },
    RULE,
    { role: 'togglefullscreen' },
    ...forDevelopers(RULE, { role: 'reload' }, { role: 'toggleDevTools' }),
  ];
  return [
    ...onMac({ role: 'appMenu' }),
    { label: '&Session', submenu: session },
    { label: '&Edit', submenu: edit },
    { label: '&View', submenu: view },
    ...onMac({ role: 'windowMenu' }),
    { role: 'help', submenu: [item('&Help', 'help', 'F1')] },
  ];
}
