import type { TrueOnset } from './melody-cases.ts';

/** Onsets that were meant, those that were found, and those that were both. */
export class OnsetScore {
  meant = 0;
  found = 0;
  both = 0;

  /** Pairs each true onset with one found within 50 ms of it (the convention of MIREX's note onsets, from memory), in time order. */
  add(
    onsets: readonly TrueOnset[],
    foundSec: readonly number[],
    withinSec = 0.05,
  ): { missed: number[]; extra: number[] } {
    const free = [...foundSec].sort((a, b) => a - b);
    const missed: number[] = [];
    this.meant += onsets.length;
    this.found += free.length;
    for (const { fromSec, toSec } of onsets) {
      const at = free.findIndex((sec) => sec >= fromSec - withinSec && sec <= toSec + withinSec);
      if (at < 0) missed.push(fromSec);
      else {
        free.splice(at, 1);
        this.both++;
      }
    }
    return { missed, extra: free };
  }

  get precision(): number {
    return this.found === 0 ? 1 : this.both / this.found;
  }

  get recall(): number {
    return this.meant === 0 ? 1 : this.both / this.meant;
  }

  get f(): number {
    return this.both === 0 ? 0 : (2 * this.both) / (this.meant + this.found);
  }
}
