import { describe, expect, it } from 'vitest';
import { mendedPlace } from '../../../app/shell/window/window-place.ts';

describe('the place of the window', () => {
  const screens = [
    { x: 0, y: 25, width: 1920, height: 1055 },
    { x: 1920, y: 0, width: 2560, height: 1400 },
  ];
  const kept = { x: 2000, y: 100, width: 1600, height: 900, isMaximized: false };

  it('is where it was, on whichever screen', () => {
    expect(mendedPlace(kept, screens)).toEqual(kept);
    expect(mendedPlace({ ...kept, x: -1000 }, screens)).toEqual({ ...kept, x: -1000 });
  });

  it('comes back to the middle of the main screen, as large as fits, when its screen is gone', () => {
    expect(mendedPlace(kept, screens.slice(0, 1))).toEqual({ ...kept, x: 160, y: 103 });
    const wide = { ...kept, width: 2500, height: 1390 };
    expect(mendedPlace(wide, screens.slice(0, 1))).toEqual({ ...wide, x: 0, y: 25, width: 1920, height: 1055 });
  });

  it('can be taken by its head: not above the screen, nor with fewer than 120 px on it', () => {
    expect(mendedPlace({ ...kept, y: -200 }, screens).y).toBeGreaterThan(0);
    expect(mendedPlace({ ...kept, x: 4400 }, screens).x).toBe(160);
  });

  it('is never smaller than 1024 x 640, and 1440 x 900 in the middle the first time', () => {
    expect(mendedPlace({ ...kept, width: 300, height: 200 }, screens)).toMatchObject({ width: 1024, height: 640 });
    expect(mendedPlace(undefined, screens)).toEqual({ x: 240, y: 103, width: 1440, height: 900, isMaximized: false });
  });
});
