import { assertInRange } from './fault.ts';
import { type FilterChain, FilterEnergies } from './filter-energies.ts';
import { type FilterKernel, loadFilterKernel } from './filters/kernel/filter-kernel.ts';
import { roomIn } from './kernel-room.ts';

/** Samples that are taken at once. */
export const MOST_FRAMES = 65536;
/** Steps of a hundredth of a second in one of a tenth. */
const IN_TENTH = 10;

/** Where the kernel's numbers lie among its doubles: two coefficients, one of each biquad, then two more; see assembly/. */
const NUMBERS = 26;
const LEVEL_TO = 19;
const LEVEL_FRAMES = 20;
const STEP_TO = 22;
const RATE = 23;
const LEVELS = 24;
const TENTHS = 25;

/**
 * Levels of one channel and its energy behind two biquads, step by step, in one call for each block: mean square and greatest magnitude of each
 * level step, and of each tenth of a second the sum of squares behind the chain, taken by hundredths whose edges lie at the frames nearest to
 * them. Samples and levels in single precision, full scale 1; state and sums in double. The result does not depend on how the input was cut.
 * Memory: 256 kB, and 240 bytes a second with steps of 50 ms.
 *
 * In the kernel where it is to be had; plain TypeScript gives the same to the last bit.
 */
export class StepEnergies {
  /** To be filled before `add`. */
  readonly room: Float32Array;
  readonly #engine: Engine;
  #levels = new Float32Array(4096);
  #levelCount = 0;
  #tenths = new Float64Array(1024);
  #tenthCount = 0;

  /** levelFrames: of a level step, a whole number. rateHz: 100 or more. */
  constructor(chain: FilterChain, levelFrames: number, rateHz: number, engine: 'kernel' | 'plain' = 'kernel') {
    assertInRange('levelFrames', levelFrames, 1, MOST_FRAMES);
    assertInRange('rateHz', rateHz, 100, 1e6);
    const kernel = engine === 'kernel' ? loadFilterKernel() : undefined;
    this.#engine =
      kernel === undefined
        ? new PlainEngine(chain, levelFrames, rateHz)
        : new KernelEngine(kernel, chain, levelFrames, rateHz);
    this.room = this.#engine.room;
  }

  /** Takes the first `count` samples of `room`; gives their greatest magnitude. */
  add(count: number): number {
    assertInRange('count', count, 0, MOST_FRAMES);
    if (count === 0) return 0;
    const engine = this.#engine;
    const greatest = engine.add(count);
    const { levelCount, tenthCount } = engine;
    if (2 * (this.#levelCount + levelCount) > this.#levels.length) {
      const wider = new Float32Array(2 * this.#levels.length + 2 * levelCount);
      wider.set(this.#levels);
      this.#levels = wider;
    }
    for (let n = 0; n < 2 * levelCount; n++) this.#levels[2 * this.#levelCount + n] = engine.levels[n]!;
    this.#levelCount += levelCount;
    if (this.#tenthCount + tenthCount > this.#tenths.length) {
      const wider = new Float64Array(2 * this.#tenths.length + tenthCount);
      wider.set(this.#tenths);
      this.#tenths = wider;
    }
    for (let n = 0; n < tenthCount; n++) this.#tenths[this.#tenthCount + n] = engine.tenths[n]!;
    this.#tenthCount += tenthCount;
    return greatest;
  }

  /** Mean square and greatest magnitude of each whole level step so far. */
  levels(): { readonly power: Float32Array; readonly peak: Float32Array } {
    const power = new Float32Array(this.#levelCount);
    const peak = new Float32Array(this.#levelCount);
    for (let n = 0; n < power.length; n++) {
      power[n] = this.#levels[2 * n]!;
      peak[n] = this.#levels[2 * n + 1]!;
    }
    return { power, peak };
  }

  /** Sum of squares behind the chain of each whole tenth of a second so far; a view, valid until the next `add`. */
  tenths(): Float64Array {
    return this.#tenths.subarray(0, this.#tenthCount);
  }
}

interface Engine {
  readonly room: Float32Array;
  /** What the last `add` has ended: power and peak by turns, and how many of these; energies. */
  readonly levels: Float32Array;
  readonly levelCount: number;
  readonly tenths: Float64Array;
  readonly tenthCount: number;
  add(count: number): number;
}

/** The most that ends within a block. */
function mostLevels(levelFrames: number): number {
  return Math.ceil(MOST_FRAMES / levelFrames) + 1;
}

function mostTenths(rateHz: number): number {
  return Math.ceil((10 * MOST_FRAMES) / rateHz) + 2;
}

class KernelEngine implements Engine {
  readonly room: Float32Array;
  readonly levels: Float32Array;
  readonly tenths: Float64Array;
  levelCount = 0;
  tenthCount = 0;
  readonly #kernel: FilterKernel;
  readonly #numbers: Float64Array;

  constructor(kernel: FilterKernel, [first, second]: FilterChain, levelFrames: number, rateHz: number) {
    this.#kernel = kernel;
    const roomAt = roomIn(kernel, 4 * MOST_FRAMES);
    const numbersAt = roomIn(kernel, 8 * NUMBERS);
    const levelsAt = roomIn(kernel, 8 * mostLevels(levelFrames));
    const tenthsAt = roomIn(kernel, 8 * mostTenths(rateHz));
    const { buffer } = kernel.memory;
    this.room = new Float32Array(buffer, roomAt, MOST_FRAMES);
    this.levels = new Float32Array(buffer, levelsAt, 2 * mostLevels(levelFrames));
    this.tenths = new Float64Array(buffer, tenthsAt, mostTenths(rateHz));
    this.#numbers = new Float64Array(buffer, numbersAt, NUMBERS);
    const ofFirst = [first.b0, first.b1, first.b2, first.a1, first.a2];
    const ofSecond = [second.b0, second.b1, second.b2, second.a1, second.a2];
    for (let n = 0; n < 5; n++) {
      this.#numbers[2 * n] = ofFirst[n]!;
      this.#numbers[2 * n + 1] = ofSecond[n]!;
    }
    this.#numbers[LEVEL_TO] = levelFrames;
    this.#numbers[LEVEL_FRAMES] = levelFrames;
    this.#numbers[STEP_TO] = Math.round(rateHz / 100);
    this.#numbers[RATE] = rateHz;
  }

  add(count: number): number {
    const { room, levels, tenths } = this;
    const numbers = this.#numbers;
    const most = this.#kernel.gather(room.byteOffset, count, numbers.byteOffset, levels.byteOffset, tenths.byteOffset);
    this.levelCount = numbers[LEVELS]!;
    this.tenthCount = numbers[TENTHS]!;
    return most;
  }
}

class PlainEngine implements Engine {
  readonly room = new Float32Array(MOST_FRAMES);
  readonly levels: Float32Array;
  readonly tenths: Float64Array;
  levelCount = 0;
  tenthCount = 0;
  readonly #filters: FilterEnergies;
  readonly #levelFrames: number;
  readonly #rateHz: number;
  #frame = 0;
  #levelTo: number;
  #step = 0;
  #stepTo: number;
  #peak = 0;
  #tenth = 0;

  constructor(chain: FilterChain, levelFrames: number, rateHz: number) {
    this.levels = new Float32Array(2 * mostLevels(levelFrames));
    this.tenths = new Float64Array(mostTenths(rateHz));
    this.#filters = new FilterEnergies([chain], 'plain');
    this.#levelFrames = levelFrames;
    this.#levelTo = levelFrames;
    this.#rateHz = rateHz;
    this.#stepTo = Math.round(rateHz / 100);
  }

  add(count: number): number {
    this.levelCount = 0;
    this.tenthCount = 0;
    let greatest = 0;
    for (let from = 0; from < count; ) {
      const to = Math.min(count, from + Math.min(this.#levelTo, this.#stepTo) - this.#frame);
      this.#filters.add(this.room, from, to);
      const peak = this.#filters.takePeak();
      greatest = Math.max(greatest, peak);
      this.#peak = Math.max(this.#peak, peak);
      this.#frame += to - from;
      from = to;
      if (this.#frame === this.#stepTo) this.#endStep();
      if (this.#frame === this.#levelTo) this.#endLevel();
    }
    return greatest;
  }

  #endStep(): void {
    this.#tenth += this.#filters.takeEnergy(0);
    this.#step++;
    this.#stepTo = Math.round(((this.#step + 1) * this.#rateHz) / 100);
    if (this.#step % IN_TENTH !== 0) return;
    this.tenths[this.tenthCount++] = this.#tenth;
    this.#tenth = 0;
  }

  #endLevel(): void {
    this.levels[2 * this.levelCount] = this.#filters.takePower() / this.#levelFrames;
    this.levels[2 * this.levelCount + 1] = this.#peak;
    this.levelCount++;
    this.#peak = 0;
    this.#levelTo += this.#levelFrames;
  }
}
