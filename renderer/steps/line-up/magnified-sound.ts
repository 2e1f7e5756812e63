import { themeColour } from '../drawing/use-width.ts';
import { largestIn } from './clap-window.ts';

/** The line that a magnified sound swings about. */
export function paintMiddle(pen: CanvasRenderingContext2D, width: number, height: number): void {
  pen.fillStyle = themeColour('--rule');
  pen.fillRect(0, height / 2, width, 1);
}

/** A magnified sound, a column a pixel (lowest and highest sample; NaN: none); softer than `leastFull` it is drawn as soft as it is. */
export function paintSound(
  pen: CanvasRenderingContext2D,
  pairs: Float32Array,
  height: number,
  leastFull: number,
): void {
  const full = largestIn(pairs, leastFull);
  const y = (value: number): number => height / 2 - (value / full) * (height / 2 - 3);
  pen.fillStyle = themeColour('--ink');
  for (let column = 0; column < pairs.length / 2; column++) {
    const low = pairs[2 * column]!;
    const high = pairs[2 * column + 1]!;
    if (Number.isNaN(low)) continue;
    // Each column reaches to the one before, so that the line does not break where the wave is steep.
    const before = column > 0 && !Number.isNaN(pairs[2 * column - 1]!) ? pairs[2 * column - 1]! : high;
    const beforeLow = column > 0 && !Number.isNaN(pairs[2 * column - 2]!) ? pairs[2 * column - 2]! : low;
    const top = y(Math.max(high, beforeLow));
    const bottom = y(Math.min(low, before));
    pen.fillRect(column, top - 0.5, 1.2, Math.max(1.2, bottom - top + 1));
  }
}

/** By how many session frames a key moves a magnified sound: 1 ms, with Shift 1 sample, Page keys 10 ms; undefined: by none. */
export function framesOfKey(key: string, shift: boolean): number | undefined {
  const size = shift ? 1 : 48;
  switch (key) {
    case 'ArrowLeft':
    case 'ArrowDown':
      return -size;
    case 'ArrowRight':
    case 'ArrowUp':
      return size;
    case 'PageDown':
      return -480;
    case 'PageUp':
      return 480;
    default:
      return undefined;
  }
}
