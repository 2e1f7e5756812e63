import type { HeardRow, PairCosts, WrittenRow } from '../../../core/pitch/note-chain.ts';

/** What `pairNotes` finds, from a table of all costs (Needleman and Wunsch 1970), as it was before it went by pairs alone. */
export function fullPairing(
  heard: HeardRow,
  written: WrittenRow,
  { pitchCents, farthestCents, timeSec }: PairCosts,
): { heardOf: (number | null)[]; cost: number } {
  const rows = heard.cents.length + 1;
  const columns = written.cents.length + 1;
  const costs = new Float64Array(rows * columns);
  const ways = new Uint8Array(rows * columns).fill(2, 1, columns);
  for (let j = 1; j < columns; j++) costs[j] = j;
  for (let i = 1; i < rows; i++) {
    for (let j = 0; j < columns; j++) {
      const at = i * columns + j;
      let cost = costs[at - columns]! + heard.added[i - 1]!;
      let way = 1;
      if (j > 0 && costs[at - 1]! + 1 < cost) [cost, way] = [costs[at - 1]! + 1, 2];
      const off = j === 0 ? Number.POSITIVE_INFINITY : Math.abs(heard.cents[i - 1]! - written.cents[j - 1]!);
      if (off <= farthestCents) {
        const late = written.atSec === undefined ? 0 : (heard.fromSec[i - 1]! - written.atSec[j - 1]!) / timeSec;
        const pair = costs[at - columns - 1]! + 0.5 * (off / pitchCents) ** 2 + late ** 2;
        if (pair < cost) [cost, way] = [pair, 3];
      }
      costs[at] = cost;
      ways[at] = way;
    }
  }
  const heardOf: (number | null)[] = Array.from({ length: columns - 1 }, () => null);
  for (let i = rows - 1, j = columns - 1; i > 0 || j > 0; ) {
    const way = ways[i * columns + j]!;
    if (way === 3) heardOf[--j] = --i;
    else if (way === 2) j--;
    else i--;
  }
  return { heardOf, cost: costs.at(-1)! };
}
