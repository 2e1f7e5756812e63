import type { Clock } from '../signal/clock.ts';
import type { NoteStep } from './follow-notes.ts';
import { clockOfLines, type Line, linesOfClock } from './line.ts';
import { type Lateness, playerNoise } from './step-test.ts';
import type { TrailPoint } from './witness.ts';

/** An even clock with the jumps that notes show. */
export function stepped(placement: Clock, jumps: readonly NoteStep[]): Clock {
  const [first] = linesOfClock({ offsetSec: placement.offsetSec, driftPpm: placement.driftPpm });
  const lines: Line[] = [first!];
  for (const jump of jumps) lines.push({ ...first!, leadSec: lines.at(-1)!.leadSec + jump.stepSec });
  return clockOfLines(
    lines,
    jumps.map((jump) => jump.takeSec),
  );
}

/** By how much a take's time has stepped at a moment of it, s. */
export function steppedBy(jumps: readonly NoteStep[], takeSec: number): number {
  return jumps.reduce((sum, jump) => sum + (takeSec > jump.takeSec ? jump.stepSec : 0), 0);
}

/** Stretches of notes that make a point of the trail. */
const POINT_STRETCHES = 3;
const POINT_LONGEST_SEC = 24;

/**
 * Points of a trail from the lateness of stretches: three together, none across a jump. leadSec: what the clock that they
 * are late against shows at session time zero; latenessSec: how much later than they are they seem.
 */
export function stretchTrail(
  kind: 'onsets' | 'mutual',
  lateness: readonly Lateness[],
  jumpsAt: readonly number[],
  leadSec: number,
  latenessSec: number,
): TrailPoint[] {
  if (lateness.length === 0) return [];
  const noise = playerNoise(lateness, jumpsAt);
  const points: TrailPoint[] = [];
  for (let from = 0; from < lateness.length; ) {
    let to = from + 1;
    const fits = (): boolean =>
      to < lateness.length &&
      to - from < POINT_STRETCHES &&
      lateness[to]!.atSec - lateness[from]!.atSec < POINT_LONGEST_SEC &&
      !jumpsAt.includes(to);
    while (fits()) to++;
    const some = lateness.slice(from, to);
    const weight = some.reduce((sum, one) => sum + one.weight, 0);
    const atSec = some.reduce((sum, one) => sum + one.weight * one.atSec, 0) / weight;
    const laterSec = some.reduce((sum, one) => sum + one.weight * one.laterSec, 0) / weight;
    points.push({
      kind,
      atSec,
      takeSec: leadSec + atSec + laterSec - latenessSec,
      uncertaintySec: Math.hypot(noise.scatterSec / Math.sqrt(some.length), noise.wanderSec),
      accepted: true,
    });
    from = to;
  }
  return points;
}
