/** A moment at which a take's clock changes: it jumps, runs at another speed from there on, or both. */
export interface Bend {
  /** The take's own time of the change, s. */
  readonly takeSec: number;
  /** How much later than before the take sounds from there on, s: positive where sound was lost, negative where it was doubled. */
  readonly jumpSec: number;
  /** How much faster its clock runs than the session's from there on. */
  readonly driftPpm: number;
}

/** Where a recording lies on the session's time line. */
export interface Clock {
  /** Session time at which its time zero sounds, s. */
  readonly offsetSec: number;
  /** How much faster its clock runs than the session's, up to the first bend. */
  readonly driftPpm: number;
  /** In order of time; absent where the clock runs evenly. */
  readonly bends?: readonly Bend[] | undefined;
}

/** A stretch in which a take's clock runs evenly: sessionSec = sessionSec0 + (takeSec - takeSec0) / rate. */
export interface ClockPiece {
  /** The take's own time in which it holds, s; the outer ends are infinite. */
  readonly fromTakeSec: number;
  readonly toTakeSec: number;
  /** Session time in which it is heard, s. Pieces follow one another without gap: where sound was lost each reaches to the middle. */
  readonly fromSec: number;
  readonly toSec: number;
  /** A moment of it in both times, s, and take seconds a session second. */
  readonly takeSec0: number;
  readonly sessionSec0: number;
  readonly rate: number;
}

/** Only what tells where a recording lies, for a placement that holds more. */
export function clockOf({ offsetSec, driftPpm, bends }: Clock): Clock {
  return bends === undefined || bends.length === 0 ? { offsetSec, driftPpm } : { offsetSec, driftPpm, bends };
}

/** The stretches in which a clock runs evenly, in order; one where it has no bends. */
export function clockPieces(clock: Clock): ClockPiece[] {
  const bends = clock.bends ?? [];
  const pieces: ClockPiece[] = [];
  let takeSec0 = 0;
  let sessionSec0 = clock.offsetSec;
  let rate = 1 + clock.driftPpm * 1e-6;
  let fromTakeSec = Number.NEGATIVE_INFINITY;
  let fromSec = Number.NEGATIVE_INFINITY;
  for (const bend of bends) {
    const before = sessionSec0 + (bend.takeSec - takeSec0) / rate;
    const after = before + bend.jumpSec;
    const toSec = (before + after) / 2;
    pieces.push({ fromTakeSec, toTakeSec: bend.takeSec, fromSec, toSec, takeSec0, sessionSec0, rate });
    fromTakeSec = bend.takeSec;
    fromSec = toSec;
    takeSec0 = bend.takeSec;
    sessionSec0 = after;
    rate = 1 + bend.driftPpm * 1e-6;
  }
  const end = Number.POSITIVE_INFINITY;
  pieces.push({ fromTakeSec, toTakeSec: end, fromSec, toSec: end, takeSec0, sessionSec0, rate });
  return pieces;
}

/** Session time of a take's own time, s. */
export function sessionSecOf(clock: Clock, takeSec: number): number {
  if (clock.bends === undefined || clock.bends.length === 0) {
    return clock.offsetSec + takeSec / (1 + clock.driftPpm * 1e-6);
  }
  const piece = clockPieces(clock).findLast(({ fromTakeSec }) => takeSec >= fromTakeSec)!;
  return piece.sessionSec0 + (takeSec - piece.takeSec0) / piece.rate;
}

/** A take's own time at a session time, s. Where sound was lost: the moment at which it was. */
export function takeSecOf(clock: Clock, sessionSec: number): number {
  if (clock.bends === undefined || clock.bends.length === 0) {
    return (sessionSec - clock.offsetSec) * (1 + clock.driftPpm * 1e-6);
  }
  const piece = clockPieces(clock).findLast(({ fromSec }) => sessionSec >= fromSec)!;
  const takeSec = piece.takeSec0 + (sessionSec - piece.sessionSec0) * piece.rate;
  return Math.min(piece.toTakeSec, Math.max(piece.fromTakeSec, takeSec));
}

/** How much faster a take's clock runs than the session's at its own time, ppm. */
export function driftPpmAt(clock: Clock, takeSec: number): number {
  return clock.bends?.findLast((bend) => takeSec >= bend.takeSec)?.driftPpm ?? clock.driftPpm;
}
