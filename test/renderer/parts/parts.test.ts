import { describe, expect, it } from 'vitest';
import { placeBeside } from '../../../renderer/parts/beside.ts';
import { curvePath, timeTicks } from '../../../renderer/parts/curve.tsx';
import { faultWords } from '../../../renderer/parts/fault-words.ts';
import { readNumber } from '../../../renderer/parts/read-number.ts';
import { dayWords } from '../../../renderer/start/day-words.ts';
import { nextTheme, shownTheme } from '../../../renderer/theme/theme.ts';

describe('numbers as people type them', () => {
  it('reads commas, true minus signs and units, and holds them in range', () => {
    expect(readNumber('−14,5 LUFS', -40, -5)).toBe(-14.5);
    expect(readNumber('-99', -40, -5)).toBe(-40);
    expect(readNumber(' +3.25dB', -12, 12)).toBe(3.25);
    expect(readNumber('.5', 0, 1)).toBe(0.5);
    expect(readNumber('loud', -40, -5)).toBeNull();
    expect(readNumber('', -40, -5)).toBeNull();
  });
});

describe('a fault on the screen', () => {
  it('calls the clip by its name, with its folder below, and says no path twice', () => {
    const file = '/home/player/Partsong/clips/bass.m4a';
    expect(faultWords({ message: `${file} is cut off.`, file })).toEqual({ title: 'bass.m4a is cut off.', path: file });
    expect(faultWords({ message: 'The clip is cut off.', file })).toEqual({
      title: 'The clip is cut off.',
      path: file,
    });
    expect(faultWords({ message: 'bass.m4a is cut off.', file: 'bass.m4a' })).toEqual({
      title: 'bass.m4a is cut off.',
      path: null,
    });
    // Names are put in as they are, and a folder may end in its separator.
    expect(faultWords({ message: '/a/b $& c.wav is cut off.', file: '/a/b $& c.wav' }).title).toBe(
      'b $& c.wav is cut off.',
    );
    expect(faultWords({ message: '/a/clips/ is a folder, not a clip.', file: '/a/clips/' }).title).toBe(
      'clips is a folder, not a clip.',
    );
    expect(faultWords({ message: 'The disk is full.', file: null })).toEqual({
      title: 'The disk is full.',
      path: null,
    });
  });
});

describe('a box beside what opened it', () => {
  const window = { width: 1000, height: 600 };
  const box = { width: 300, height: 100 };

  it('lies below, above where below is no room, and never outside', () => {
    expect(placeBeside({ left: 100, top: 50, bottom: 70 }, box, window)).toEqual({ left: 100, top: 76 });
    expect(placeBeside({ left: 100, top: 550, bottom: 570 }, box, window)).toEqual({ left: 100, top: 444 });
    expect(placeBeside({ left: 900, top: 50, bottom: 70 }, box, window).left).toBe(692);
    const flat = { width: 320, height: 90 };
    const { left, top } = placeBeside({ left: 300, top: 40, bottom: 60 }, box, flat);
    expect(left).toBeGreaterThanOrEqual(8);
    expect(top).toBeGreaterThanOrEqual(8);
  });
});

describe('a curve', () => {
  it('is broken where there is no value', () => {
    const path = curvePath(
      [1, 2, null, 3],
      (at) => at,
      (value) => value,
    );
    expect(path).toBe('M0.0 1.0L1.0 2.0M3.0 3.0');
  });

  it('has at most as many times below it as fit, at round steps', () => {
    expect(timeTicks(60, 6)).toEqual([0, 10, 20, 30, 40, 50, 60]);
    expect(timeTicks(600, 5)).toEqual([0, 120, 240, 360, 480, 600]);
  });
});

describe('days and themes', () => {
  it('says how long ago a session was open', () => {
    const now = new Date(2026, 10, 25, 9);
    expect(dayWords(new Date(2026, 10, 25, 1).toISOString(), now)).toBe('today');
    expect(dayWords(new Date(2026, 10, 24, 23).toISOString(), now)).toBe('yesterday');
    expect(dayWords(new Date(2026, 10, 20, 12).toISOString(), now)).toBe('5 days ago');
    expect(dayWords(new Date(2026, 0, 3, 12).toISOString(), now)).toBe('3 January 2026');
    expect(dayWords('never', now)).toBe('');
  });

  it('follows the system until day or night is chosen, and steps through all three', () => {
    expect(shownTheme('system', true)).toBe('night');
    expect(shownTheme('day', true)).toBe('day');
    expect(nextTheme(nextTheme(nextTheme('system')))).toBe('system');
  });
});
