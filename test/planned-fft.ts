import { RealFft } from '../core/signal/fft.ts';

const planned = new Map<number, RealFft>();

/** The transform of a size, planned once a process: to plan one of 2^18 takes longer than to run it. */
export function plannedFft(size: number): RealFft {
  const fft = planned.get(size) ?? new RealFft(size);
  planned.set(size, fft);
  return fft;
}
