import { CELL_FRAMES, type PeakEngine, SEARCH_FRAMES, WORK_FRAMES } from './peak-engine.ts';
import { greatestTop, midwayInto, REACH_BEFORE, TOP_NORM, topsInto } from './peak-interpolator.ts';

const WORK_CELLS = WORK_FRAMES / CELL_FRAMES;
/** Short runs, so that a peak found early lets the rest of a loud passage be passed over. */
const RUN_CELLS = 8;

/** The engine in TypeScript: the fallback, and the oracle of the kernel. */
export class ScriptPeakEngine implements PeakEngine {
  readonly work = new Float32Array(WORK_FRAMES);
  readonly spare = new Float32Array(WORK_FRAMES);
  readonly figures = new Float32Array(SEARCH_FRAMES);
  readonly #cells = new Float64Array(WORK_CELLS);
  readonly #midway = new Float64Array(SEARCH_FRAMES + 3);
  readonly #atFrame = new Float64Array(SEARCH_FRAMES);
  readonly #between = new Float64Array(SEARCH_FRAMES);

  search(inSpare: boolean, peak: number): number {
    const work = inSpare ? this.spare : this.work;
    measureCells(work, this.#cells);
    let greatest = Math.max(peak, this.lastSamplePeak());
    let cell = 2;
    while (cell < WORK_CELLS - 2) {
      const needed = greatest / TOP_NORM;
      if (!this.#isHot(cell, needed)) {
        cell++;
        continue;
      }
      const first = cell;
      while (cell < WORK_CELLS - 2 && cell - first < RUN_CELLS && this.#isHot(cell, needed)) cell++;
      const from = first * CELL_FRAMES;
      const to = cell * CELL_FRAMES;
      midwayInto(work, from - 2, to + 1, this.#midway);
      greatest = greatestTop(work, this.#midway, from, to, greatest);
    }
    return greatest;
  }

  lastSamplePeak(): number {
    let greatest = 0;
    for (let cell = 2; cell < WORK_CELLS - 2; cell++) greatest = Math.max(greatest, this.#cells[cell]!);
    return greatest;
  }

  #isHot(cell: number, needed: number): boolean {
    const cells = this.#cells;
    return cells[cell]! > needed || cells[cell - 1]! > needed || cells[cell + 1]! > needed;
  }

  followFrames(count: number, before: number): number {
    const from = REACH_BEFORE;
    midwayInto(this.work, from - 2, from + count + 1, this.#midway);
    topsInto(this.work, this.#midway, from, from + count, this.#atFrame, this.#between);
    let last = before;
    for (let n = 0; n < count; n++) {
      const after = this.#between[n]!;
      this.figures[n] = Math.max(this.#atFrame[n]!, last, after);
      last = after;
    }
    return last;
  }
}

/** Greatest magnitude of each cell of 16 frames. */
function measureCells(work: Float32Array, cells: Float64Array): void {
  for (let cell = 0, n = 0; cell < cells.length; cell++) {
    let high = 0;
    let low = 0;
    for (const end = n + CELL_FRAMES; n < end; n += 4) {
      const a = work[n]!;
      const b = work[n + 1]!;
      const c = work[n + 2]!;
      const d = work[n + 3]!;
      if (a > high) high = a;
      if (a < low) low = a;
      if (b > high) high = b;
      if (b < low) low = b;
      if (c > high) high = c;
      if (c < low) low = c;
      if (d > high) high = d;
      if (d < low) low = d;
    }
    cells[cell] = Math.max(high, -low);
  }
}
