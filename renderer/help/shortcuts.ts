import { create } from 'zustand';
import { keep, kept } from '../parts/kept.ts';

/** Something a key does, anywhere in the window. */
export interface Shortcut {
  /** Parts joined by '+': 'mod' (Ctrl, on a Mac Command), 'shift', 'alt', then the key as `KeyboardEvent.key` in lower case: 'mod+z', '1', 'space', 'arrowleft'. */
  readonly keys: string;
  /** What it does, as the help lists it. */
  readonly words: string;
  /** null: only listed here; the part of the window that has the focus does it itself. */
  readonly run: (() => void) | null;
}

export interface ShortcutGroup {
  readonly title: string;
  readonly shortcuts: readonly Shortcut[];
}

interface ShortcutState {
  readonly groups: readonly ShortcutGroup[];
  /** Shortcuts without Ctrl or Command; they can be switched off for people who dictate or press keys by chance. */
  readonly singleKeys: boolean;
}

const KEY = 'single-keys';

/** All shortcuts there are now, for the help. */
export const useShortcuts = create<ShortcutState>(() => ({ groups: [], singleKeys: true }));

/** Adds a group of shortcuts; returns how to take it out again. */
export function addShortcuts(title: string, shortcuts: readonly Shortcut[]): () => void {
  const group: ShortcutGroup = { title, shortcuts };
  useShortcuts.setState(({ groups }) => ({ groups: [...groups, group] }));
  return () => useShortcuts.setState(({ groups }) => ({ groups: groups.filter((one) => one !== group) }));
}

/** Switches shortcuts without Ctrl or Command on or off, and remembers it. */
export function setSingleKeys(singleKeys: boolean): void {
  keep(KEY, singleKeys ? 'on' : 'off');
  useShortcuts.setState({ singleKeys });
}

/** Listens for the keys of the window; called once. Returns how to stop. */
export function startShortcuts(): () => void {
  useShortcuts.setState({ singleKeys: kept(KEY) !== 'off' });
  const listen = (event: KeyboardEvent): void => {
    const { groups, singleKeys } = useShortcuts.getState();
    const keys = keysOf(event);
    if (event.defaultPrevented || keys === null) return;
    if (!keys.includes('mod+') && !singleKeys) return;
    const target = event.target instanceof Element ? event.target : null;
    if (target !== null && isTakenBy(target, keys)) return;
    const found = groups.flatMap((group) => group.shortcuts).findLast((one) => one.keys === keys && one.run !== null);
    if (found === undefined || found.run === null) return;
    event.preventDefault();
    found.run();
  };
  window.addEventListener('keydown', listen);
  return () => window.removeEventListener('keydown', listen);
}

type Pressed = Pick<KeyboardEvent, 'key' | 'ctrlKey' | 'metaKey' | 'shiftKey' | 'altKey' | 'isComposing'>;

/** The keys of an event as a shortcut writes them; null for a lone modifier or while a sign is being composed. */
export function keysOf(event: Pressed): string | null {
  const { key } = event;
  if (event.isComposing || ['Control', 'Meta', 'Shift', 'Alt', 'AltGraph', 'Dead'].includes(key)) return null;
  const name = key === ' ' ? 'space' : key === '+' ? 'plus' : key.toLowerCase();
  // Shift is part of signs such as '?', so it counts only with letters and named keys.
  const countsShift = event.shiftKey && (name.length > 1 || name.toUpperCase() !== name);
  return [
    ...(event.ctrlKey || event.metaKey ? ['mod'] : []),
    ...(event.altKey ? ['alt'] : []),
    ...(countsShift ? ['shift'] : []),
    name,
  ].join('+');
}

const WRITES =
  'input:not([type="checkbox"], [type="radio"], [type="range"], [type="button"], [type="file"]), textarea, select, [contenteditable="true"]';
const PRESSES = 'button, a, summary, input, select, [role="button"], [role="slider"], [role="tab"], [role="option"]';
const MOVES =
  'input, select, [role="slider"], [role="separator"], [role="radio"], [role="tab"], [role="option"], [role="grid"]';

/** Whether an element needs these keys itself: text fields all of them, buttons space and Enter, sliders and lists the arrows. */
export function isTakenBy(target: Pick<Element, 'closest'>, keys: string): boolean {
  if (target.closest(WRITES) !== null) return true;
  const key = keys.split('+').at(-1)!;
  if (key === 'space' || key === 'enter') return target.closest(PRESSES) !== null;
  if (key.startsWith('arrow') || ['home', 'end', 'pageup', 'pagedown'].includes(key))
    return target.closest(MOVES) !== null;
  return false;
}

const names: Readonly<Record<string, string>> = {
  space: 'Space',
  arrowleft: '←',
  arrowright: '→',
  arrowup: '↑',
  arrowdown: '↓',
  plus: '+',
  escape: 'Esc',
  home: 'Home',
  end: 'End',
  enter: 'Enter',
  shift: 'Shift',
  alt: 'Alt',
  pageup: 'Page up',
  pagedown: 'Page down',
  delete: 'Delete',
};

/** The keys of a shortcut as they are written on the keyboard. */
export function keyNames(keys: string, isMac: boolean): string[] {
  return keys
    .split('+')
    .map((key) =>
      key === 'mod' ? (isMac ? '⌘' : 'Ctrl') : (names[key] ?? (/^(.|f\d+)$/.test(key) ? key.toUpperCase() : key)),
    );
}
