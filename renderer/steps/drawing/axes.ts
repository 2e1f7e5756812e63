/** A mark on an axis: where, and what is written there ('' for a short stroke without words). */
export interface Tick {
  readonly at: number;
  readonly words: string;
}

/** A pitch of sound on a logarithmic axis: pixels from `from` at `lowHz` to `to` at `highHz`. */
export function logScale(lowHz: number, highHz: number, from: number, to: number): (hz: number) => number {
  const low = Math.log(lowHz);
  const span = Math.log(highHz) - low;
  return (hz) => from + ((Math.log(hz) - low) / span) * (to - from);
}

/** A straight axis: pixels from `from` at `first` to `to` at `last`. */
export function evenScale(first: number, last: number, from: number, to: number): (value: number) => number {
  return (value) => from + ((value - first) / (last - first)) * (to - from);
}

/** Frequencies to write on an axis between two, Hz: 1, 2 and 5 of each decade, or only 1 where it is narrow. */
export function hzTicks(lowHz: number, highHz: number, isNarrow = false): Tick[] {
  const ticks: Tick[] = [];
  for (let decade = 10; decade <= highHz; decade *= 10) {
    for (const step of isNarrow ? [1] : [1, 2, 5]) {
      const at = decade * step;
      if (at >= lowHz && at <= highHz) ticks.push({ at, words: hzWords(at) });
    }
  }
  return ticks;
}

/** A frequency for people: "50 Hz", "1 kHz", "7.8 kHz". */
export function hzWords(hz: number): string {
  if (hz < 1000) return `${hz < 99.5 && hz % 1 !== 0 ? hz.toFixed(1) : hz.toFixed(0)} Hz`;
  const kilo = hz / 1000;
  return `${kilo >= 10 || Number.isInteger(kilo) ? kilo.toFixed(0) : kilo.toFixed(1)} kHz`;
}

/** Round steps between two values, at most `most` of them: 1, 2 or 5 times a power of ten apart. */
export function evenTicks(first: number, last: number, most: number): number[] {
  const rough = Math.abs(last - first) / Math.max(1, most);
  const power = 10 ** Math.floor(Math.log10(rough));
  const step = [1, 2, 5, 10].map((factor) => factor * power).find((one) => one >= rough * 0.999999)!;
  const ticks: number[] = [];
  for (let n = Math.ceil(first / step - 1e-9); n * step <= last + step * 1e-9; n++) ticks.push(n * step + 0);
  return ticks;
}

/** The range of a level axis, dB: whole steps of `stepDb` around all values above `floorDb`. */
export function levelRange(values: readonly number[], stepDb: number, floorDb: number): { low: number; top: number } {
  const heard = values.filter((value) => value > floorDb && Number.isFinite(value));
  if (heard.length === 0) return { low: floorDb, top: floorDb + stepDb };
  const top = Math.ceil((Math.max(...heard) + 2) / stepDb) * stepDb;
  const low = Math.floor((Math.min(...heard) - 2) / stepDb) * stepDb;
  return { low: Math.min(low, top - stepDb), top };
}

/** An SVG path through points; '' for none. */
export function pathThrough(points: readonly (readonly [number, number])[]): string {
  return points.map(([x, y], n) => `${n === 0 ? 'M' : 'L'}${x.toFixed(1)} ${y.toFixed(1)}`).join('');
}
