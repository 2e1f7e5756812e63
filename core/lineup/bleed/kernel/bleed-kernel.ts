/**
 * What looking for leakage does most, in WebAssembly with 128-bit SIMD, double precision (assembly/ says what each does). Where SIMD is missing
 * there is no kernel and the caller uses plain TypeScript.
 */
import { WasmModule } from '../../../signal/wasm-module.ts';
import { KERNEL_BASE64 } from './kernel.wasm.ts';

/** Addresses are bytes in `memory`. */
interface BleedExports {
  readonly memory: { readonly buffer: ArrayBuffer };
  allocate(bytes: number): number;
  widen(from: number, to: number, count: number): void;
  readBetween(
    line: number,
    start: number,
    step: number,
    count: number,
    taps: number,
    tapCount: number,
    phases: number,
    lead: number,
    target: number,
  ): void;
  addShifted(line: number, rows: number, shifts: number, count: number, width: number): void;
  smoothPower(re: number, im: number, bins: number, to: number, single: number, power: number): void;
  weighCross(
    re: number,
    im: number,
    power: number,
    low: number,
    count: number,
    singleRe: number,
    singleIm: number,
    targetRe: number,
    targetIm: number,
  ): void;
  highestAlong(
    rows: number,
    width: number,
    times: number,
    starts: number,
    middles: number,
    groups: number,
    atSec: number,
    steps: number,
    finePpm: number,
    coarsePpm: number,
    lagHz: number,
    penalty: number,
    rareness: number,
    total: number,
    sums: number,
    line: number,
    shifts: number,
  ): number;
  sumOnLine(
    rows: number,
    apartSec: number,
    count: number,
    width: number,
    lag: number,
    ppm: number,
    lagHz: number,
  ): number;
  addCubic(line: number, row: number, rowWidth: number, shift: number, width: number): void;
  goOn(
    score: number,
    next: number,
    came: number,
    width: number,
    costs: number,
    reach: number,
    jumpCost: number,
    row: number,
    gain: number,
    against: number,
    least: number,
  ): void;
  placeOfHighest(values: number, width: number): number;
  sumBand(
    riseFrom: number,
    next: number,
    riseLine: number,
    riseBy: number,
    frames: number,
    begin: number,
    end: number,
    target: number,
  ): void;
  addCrossed(sum: number, one: number, other: number, bins: number): void;
  highestPeaks(
    lags: number,
    size: number,
    least: number,
    count: number,
    place: number,
    values: number,
    sizes: number,
    order: number,
    most: number,
  ): number;
  compareOnsets(
    fromOne: number,
    lineOne: number,
    byOne: number,
    framesOne: number,
    from: number,
    line: number,
    by: number,
    frames: number,
    leadSec: number,
    speed: number,
    frameSec: number,
    fromSec: number,
    toSec: number,
    stretchSec: number,
    reach: number,
    broadSums: number,
    cache: number,
    slots: number,
    lines: number,
    table: number,
    shift: number,
    entries: number,
  ): void;
  setMiddles(values: number, size: number, count: number, target: number): void;
}

/** What a room of the kernel's memory is for. */
export type RoomName =
  | 'raw'
  | 'wide'
  | 'taps'
  | 'read'
  | 'spectra'
  | 'segment'
  | 'fine'
  | 'rows'
  | 'sums'
  | 'line'
  | 'shifts'
  | 'apart'
  | 'times'
  | 'starts'
  | 'middles'
  | 'penalty'
  | 'rareness'
  | 'row'
  | 'scores'
  | 'came'
  | 'costs'
  | 'risesOfOne'
  | 'rises'
  | 'onsets'
  | 'risesOfOther'
  | 'lags'
  | 'values'
  | 'sizes'
  | 'order'
  | 'searched';

/**
 * The kernel and its memory: one a thread, since nothing of one call is needed in the next. Rooms grow to what was ever
 * asked for: some 4 MB, and what `LagSearch` keeps.
 */
export class BleedKernel {
  readonly run: BleedExports;
  readonly #rooms = new Map<RoomName, { readonly address: number; readonly bytes: number }>();
  /** Who wrote the taps that lie in their room. */
  tapsOf: object | undefined;
  /** Whose spectra lie in their room. */
  searchedBy: object | undefined;

  constructor(run: BleedExports) {
    this.run = run;
  }

  /** Where at least so many bytes lie; what lay there before may be gone. */
  room(name: RoomName, bytes: number): number {
    const known = this.#rooms.get(name);
    if (known !== undefined && known.bytes >= bytes) return known.address;
    const address = this.run.allocate(bytes);
    if (address === 0) throw new RangeError(`bytes is ${bytes}; allowed what the memory holds`);
    this.#rooms.set(name, { address, bytes });
    return address;
  }

  /** Good until a room is made or grows. */
  floats(address: number, count: number): Float32Array {
    return new Float32Array(this.run.memory.buffer, address, count);
  }

  doubles(address: number, count: number): Float64Array {
    return new Float64Array(this.run.memory.buffer, address, count);
  }

  whole(address: number, count: number): Int32Array {
    return new Int32Array(this.run.memory.buffer, address, count);
  }

  bytes(address: number, count: number): Uint8Array {
    return new Uint8Array(this.run.memory.buffer, address, count);
  }
}

const code = new WasmModule<BleedExports>(KERNEL_BASE64);
let made: BleedKernel | null | undefined;

/** The kernel of this thread; null where WebAssembly or its SIMD is not to be had. */
export function bleedKernel(): BleedKernel | null {
  if (made === undefined) {
    const run = code.instantiate();
    made = run === undefined ? null : new BleedKernel(run);
  }
  return made;
}
