import { readFileSync } from 'node:fs';
import { mkdir, writeFile } from 'node:fs/promises';
import { dirname } from 'node:path';
import { z } from 'zod';
import { writeWhole } from '../../media/whole-file.ts';

/** The smallest window in which everything can be reached, px. */
export const LEAST_WIDTH = 1024;
export const LEAST_HEIGHT = 640;
/** So much of the window's head must lie on a screen that it can be taken and moved, px. */
const GRIP_WIDTH = 120;
const GRIP_HEIGHT = 32;

const place = z.object({
  x: z.number().int(),
  y: z.number().int(),
  width: z.number().int().min(1).max(20_000),
  height: z.number().int().min(1).max(20_000),
  isMaximized: z.boolean(),
});

/** Where the window was, in the system's own px. */
export type WindowPlace = z.infer<typeof place>;
export type Area = Pick<WindowPlace, 'x' | 'y' | 'width' | 'height'>;

/** The place kept in a file; undefined when there is none that can be read. */
export function readPlace(file: string): WindowPlace | undefined {
  try {
    return place.parse(JSON.parse(readFileSync(file, 'utf8')));
  } catch {
    return undefined;
  }
}

/** Keeps the place; that it could not be kept hurts nobody. */
export async function keepPlace(file: string, kept: WindowPlace): Promise<void> {
  try {
    await mkdir(dirname(file), { recursive: true });
    await writeWhole(file, (partial) => writeFile(partial, JSON.stringify(kept)));
  } catch {
    // The window stands in its usual place the next time.
  }
}

/**
 * A place for the window on the screens there are: the kept one where it can still be taken hold of, else the same size,
 * as far as it fits, in the middle of the first screen. areas: of the screens, without bars and docks, first the main one.
 */
export function mendedPlace(kept: WindowPlace | undefined, areas: readonly Area[]): WindowPlace {
  const main = areas[0] ?? { x: 0, y: 0, width: 1280, height: 800 };
  const wanted = kept ?? { x: Number.NaN, y: Number.NaN, width: 1440, height: 900, isMaximized: false };
  const home = areas.find((area) => isGrippable(wanted, area));
  const { width, height } = fitted(wanted, home ?? main);
  if (home !== undefined) return { ...wanted, width, height };
  const x = Math.round(main.x + (main.width - width) / 2);
  const y = Math.round(main.y + (main.height - height) / 2);
  return { x, y, width, height, isMaximized: wanted.isMaximized };
}

function fitted(wanted: Area, area: Area): Pick<Area, 'width' | 'height'> {
  return {
    width: Math.min(Math.max(wanted.width, LEAST_WIDTH), Math.max(area.width, LEAST_WIDTH)),
    height: Math.min(Math.max(wanted.height, LEAST_HEIGHT), Math.max(area.height, LEAST_HEIGHT)),
  };
}

function isGrippable(window: Area, area: Area): boolean {
  const across = Math.min(window.x + window.width, area.x + area.width) - Math.max(window.x, area.x);
  return across >= GRIP_WIDTH && window.y >= area.y && window.y + GRIP_HEIGHT <= area.y + area.height;
}
