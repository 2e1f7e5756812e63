import type { Bend, Clock } from '../signal/clock.ts';

/** An even clock: the take's own time of session time s is leadSec + (1 + driftPpm / 1e6) s. */
export interface Line {
  /** The take's own time of session time zero, s. */
  readonly leadSec: number;
  readonly driftPpm: number;
}

/** A moment found in a take by sound is not told better than this, s. */
export const LEAST_ERROR_SEC = 0.00005;

/** Smaller jumps are none, s. */
const LEAST_JUMP_SEC = 1e-6;

/** The take's own time on a line, s. */
export function takeSecOn({ leadSec, driftPpm }: Line, sessionSec: number): number {
  return leadSec + sessionSec + sessionSec * driftPpm * 1e-6;
}

/** Session time on a line, s. */
export function sessionSecOn({ leadSec, driftPpm }: Line, takeSec: number): number {
  return (takeSec - leadSec) / (1 + driftPpm * 1e-6);
}

/** Lines that follow one another, and the take times at which each gives way to the next, s, as a clock. */
export function clockOfLines(lines: readonly Line[], cutsTakeSec: readonly number[]): Clock {
  const [first, ...others] = lines;
  if (first === undefined) throw new RangeError('lines is empty; allowed one or more');
  const bends = others.map((line, n): Bend => {
    const takeSec = cutsTakeSec[n]!;
    const jumpSec = sessionSecOn(line, takeSec) - sessionSecOn(lines[n]!, takeSec);
    return { takeSec, jumpSec: Math.abs(jumpSec) < LEAST_JUMP_SEC ? 0 : jumpSec, driftPpm: line.driftPpm };
  });
  return { offsetSec: sessionSecOn(first, 0), driftPpm: first.driftPpm, ...(bends.length > 0 ? { bends } : {}) };
}

/** The lines of a clock, one more than it has bends. */
export function linesOfClock(clock: Clock): Line[] {
  const lines = [{ leadSec: -clock.offsetSec * (1 + clock.driftPpm * 1e-6), driftPpm: clock.driftPpm }];
  for (const { takeSec, jumpSec, driftPpm } of clock.bends ?? []) {
    const atSec = sessionSecOn(lines.at(-1)!, takeSec) + jumpSec;
    lines.push({ leadSec: takeSec - atSec * (1 + driftPpm * 1e-6), driftPpm });
  }
  return lines;
}
