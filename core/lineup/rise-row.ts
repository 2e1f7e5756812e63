import { loadListenKernel } from './kernel/listen-kernel.ts';
import { KernelRiseRow } from './kernel-rise-row.ts';
import { PlainRiseRow } from './plain-rise-row.ts';
import type { RiseRow } from './rise-shape.ts';

/** One for each size and rate serves all, since what it heard is of no use after the next. */
const made = new Map<string, RiseRow>();

/** engine: 'kernel' where it is to be had; 'plain' gives the same to the last bit. */
export function riseRow(size: number, rateHz: number, engine: 'kernel' | 'plain' = 'kernel'): RiseRow {
  const name = `${size} ${rateHz} ${engine}`;
  const known = made.get(name);
  if (known !== undefined) return known;
  const kernel = engine === 'kernel' ? loadListenKernel() : undefined;
  const row = kernel === undefined ? new PlainRiseRow(size, rateHz) : new KernelRiseRow(kernel, size, rateHz);
  made.set(name, row);
  return row;
}
