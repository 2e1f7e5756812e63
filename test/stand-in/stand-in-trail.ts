import { withAnchor } from '../../core/session/anchors.ts';
import type { Placement, TrailPoint } from '../../core/session/schema.ts';
import { type Clock, sessionSecOf } from '../../core/signal/clock.ts';

/** Noise that is the same every time, -1 to 1. */
function noiseAt(n: number, salt: number): number {
  const hash = Math.imul(n * 7919 + salt * 104_729, 2_654_435_761) >>> 0;
  return hash / 2 ** 31 - 1;
}

/** What was heard along an invented take: bleed and notes, of which every 17th is set aside. */
function inventedTrail(clock: Clock, lengthSec: number, salt: number): TrailPoint[] {
  const points: TrailPoint[] = [];
  for (let takeSec = 9, n = 0; takeSec < lengthSec - 2; takeSec += lengthSec / 60, n++) {
    const kind = n % 3 === 0 ? 'bleed' : 'onsets';
    const uncertaintySec = kind === 'bleed' ? 0.0008 : 0.003;
    const isFar = n % 17 === 16;
    const off = isFar ? 0.03 * noiseAt(n, salt) : uncertaintySec * noiseAt(n, salt);
    points.push({ kind, atSec: sessionSecOf(clock, takeSec) + off, takeSec, uncertaintySec, accepted: !isFar });
  }
  return points;
}

/**
 * Invented placements with what was heard along the take: the first runs evenly, the second lost 20 ms and later runs
 * faster, the third is off by more than 10 ms at its end, the fourth was lined up before such curves were kept. pins: the
 * second was pinned in three places.
 */
export function inventedPlacement(n: number, plain: Placement, lengthSec: number, pins: boolean): Placement {
  const kind = n % 4;
  if (kind === 3) return plain;
  if (kind === 0) return { ...plain, residualSec: 0.0012, trail: inventedTrail(plain, lengthSec, n) };
  if (kind === 2) {
    const bent: Clock = {
      ...plain,
      bends: [{ takeSec: 0.6 * lengthSec, jumpSec: 0, driftPpm: plain.driftPpm - 1200 }],
    };
    return { ...plain, residualSec: 0.0143, trail: inventedTrail(bent, lengthSec, n) };
  }
  const bends = [
    { takeSec: 0.45 * lengthSec, jumpSec: 0.02, driftPpm: plain.driftPpm },
    { takeSec: 0.75 * lengthSec, jumpSec: 0, driftPpm: plain.driftPpm + 80 },
  ];
  const bent = { ...plain, bends };
  const found: Placement = { ...bent, residualSec: 0.0031, trail: inventedTrail(bent, lengthSec, n) };
  if (!pins) return found;
  return [0.15, 0.6, 0.9].reduce((now, share) => {
    const takeSec = share * lengthSec;
    const laid = withAnchor(now, { takeSec, atSec: sessionSecOf(bent, takeSec) + 0.004, jumpTakeSec: null });
    return laid.kind === 'laid' ? laid.value : now;
  }, found);
}
