/** Lengths of packets by their stamps, run by run. */
export interface StampRun {
  readonly packets: number;
  /** In ticks of the track's clock. */
  readonly ticks: number;
}

/** Frames of an AAC packet: one block, or two where its upper half is coded apart (ISO/IEC 14496-3). */
const AAC_FRAMES = [1024, 2048] as const;
/** Stamps may scatter so much about the line, s (standard deviation). */
const MOST_SCATTER_SEC = 0.002;
/** What is off by less at the end is not worth telling, s. */
const LEAST_OFF_SEC = 0.002;
/** Farther off no recorder's clock runs, ppm. */
const FARTHEST_PPM = 2000;

/** How the time stamps of a sound run against its count of samples. */
export interface SoundPace {
  /** How much faster the stamps run, ppm. */
  readonly ppm: number;
  /** How much later than by the count of samples the last stamp is, s. */
  readonly offSec: number;
}

/**
 * The pace of AAC sound from its table of stamps, without its media. Steps larger than toleranceSec are lost or doubled sound, which
 * decoding makes good, and so begin anew. undefined where there is nothing to tell: the two agree within 2 ms, or do not
 * run apart evenly.
 */
export function soundPace(
  runs: readonly StampRun[],
  ticksPerSec: number,
  rateHz: number,
  toleranceSec: number,
): SoundPace | undefined {
  const usual = medianTicks(runs);
  const frames = AAC_FRAMES.find((count) => Math.abs((usual / ticksPerSec) * (rateHz / count) - 1) < 0.1);
  if (frames === undefined) return undefined;
  const packetSec = frames / rateHz;
  // The rule: nothing is off anywhere. (The last packet is cut to what was recorded.)
  const isLast = (n: number): boolean => n === runs.length - 1;
  if (runs.every((run, n) => run.ticks / ticksPerSec === packetSec || (isLast(n) && run.packets === 1)))
    return undefined;
  let [n, x, y, xx, xy, yy] = [0, 0, 0, 0, 0, 0];
  let [atSec, offSec] = [0, 0];
  for (const [index, { packets, ticks }] of runs.entries()) {
    const step = ticks / ticksPerSec - packetSec;
    const count = isLast(index) ? packets - 1 : packets;
    for (let k = 0; k < count; k++) {
      const isBreak = Math.abs(step) > toleranceSec;
      atSec += packetSec + (isBreak ? step + offSec : 0);
      offSec = isBreak ? 0 : offSec + step;
      n++;
      x += atSec;
      y += offSec;
      xx += atSec * atSec;
      xy += atSec * offSec;
      yy += offSec * offSec;
    }
  }
  const spread = xx - (x * x) / n;
  if (n < 2 || spread <= 0) return undefined;
  const slope = (xy - (x * y) / n) / spread;
  const scatter = Math.sqrt(Math.max(0, yy - (y * y) / n - slope * slope * spread) / n);
  const isEven = scatter < MOST_SCATTER_SEC && Math.abs(slope) < FARTHEST_PPM * 1e-6;
  if (!isEven || Math.abs(slope * atSec) < LEAST_OFF_SEC) return undefined;
  return { ppm: slope * 1e6, offSec: slope * atSec };
}

function medianTicks(runs: readonly StampRun[]): number {
  const sorted = runs.toSorted((one, other) => one.ticks - other.ticks);
  let left = runs.reduce((sum, { packets }) => sum + packets, 0) / 2;
  for (const { packets, ticks } of sorted) {
    left -= packets;
    if (left <= 0) return ticks;
  }
  return 0;
}
