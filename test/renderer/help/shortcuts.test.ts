import { describe, expect, it } from 'vitest';
import { isTakenBy, keyNames, keysOf } from '../../../renderer/help/shortcuts.ts';
import { words } from '../../../renderer/help/words.ts';

const press = (key: string, held: Partial<Parameters<typeof keysOf>[0]> = {}): string | null =>
  keysOf({ key, ctrlKey: false, metaKey: false, shiftKey: false, altKey: false, isComposing: false, ...held });

/** An element that lies in whatever one of these selectors finds. */
const inside = (...tags: string[]): Pick<Element, 'closest'> => ({
  closest: ((selector: string) =>
    tags.some((tag) => selector.split(/,\s*(?![^(]*\))/).some((one) => one.trim() === tag))
      ? {}
      : null) as Element['closest'],
});

describe('shortcuts', () => {
  it('reads keys with their modifiers, Ctrl and Command alike', () => {
    expect(press('z', { ctrlKey: true })).toBe('mod+z');
    expect(press('Z', { metaKey: true, shiftKey: true })).toBe('mod+shift+z');
    expect(press(' ')).toBe('space');
    expect(press('ArrowLeft', { altKey: true })).toBe('alt+arrowleft');
    expect(press('?', { shiftKey: true })).toBe('?');
    expect(press('1')).toBe('1');
    expect(press('Shift', { shiftKey: true })).toBeNull();
    expect(press('a', { isComposing: true })).toBeNull();
  });

  it('leaves space and Enter to buttons, and arrows to sliders', () => {
    expect(isTakenBy(inside('button'), 'space')).toBe(true);
    expect(isTakenBy(inside('button'), '2')).toBe(false);
    expect(isTakenBy(inside('button'), 'arrowleft')).toBe(false);
    expect(isTakenBy(inside('[role="slider"]'), 'arrowleft')).toBe(true);
    expect(isTakenBy(inside('textarea'), 'mod+z')).toBe(true);
    expect(isTakenBy(inside(), 'space')).toBe(false);
  });

  it('names keys as they are written on the keyboard', () => {
    expect(keyNames('mod+shift+z', false)).toEqual(['Ctrl', 'Shift', 'Z']);
    expect(keyNames('mod+z', true)).toEqual(['⌘', 'Z']);
    expect(keyNames('space', false)).toEqual(['Space']);
    expect(keyNames('shift+f10', false)).toEqual(['Shift', 'F10']);
  });
});

describe('words', () => {
  it('are each explained in a whole sentence, with true minus signs and of at most 300 signs', () => {
    for (const { name, text } of Object.values(words)) {
      expect(text, name).toMatch(/[.!)]$/);
      expect(text, name).not.toMatch(/(^|\s)-\d/);
      expect(text.length, name).toBeLessThanOrEqual(300);
    }
  });

  it('have names of their own', () => {
    const names = Object.values(words).map((word) => word.name);
    expect(new Set(names).size).toBe(names.length);
  });
});
