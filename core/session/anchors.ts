import { type Clock, clockOf, sessionSecOf } from '../signal/clock.ts';
import { type Anchor, type Laid, layByAnchors } from './anchored-clock.ts';
import type { FoundPlace, Placement, Witness } from './schema.ts';

/** How exactly a moment is pinned where two sounds are laid upon one another by eye, s. */
const PINNED_UNCERTAINTY_SEC = 0.001;
/** What is known of a take's clock before anything was heard of it, ppm. */
const UNHEARD_DRIFT_PPM = 100;

/** The anchors of a placement in the order of the take. */
export function anchorsOf(placement: Placement | null): Anchor[] {
  return (placement?.evidence ?? [])
    .flatMap(({ anchor, takeSec, atSec }) =>
      anchor === undefined ? [] : [{ takeSec, atSec, jumpTakeSec: anchor.jumpTakeSec }],
    )
    .sort((a, b) => a.takeSec - b.takeSec);
}

/**
 * Where the evidence alone puts a take; undefined where nothing was found. A placement of an older session that was laid by
 * hand does not tell: its accepted evidence, each piece by its weight, gives the offset with the drift it has.
 */
export function foundOf(placement: Placement | null): FoundPlace | undefined {
  if (placement === null) return undefined;
  if (placement.found !== undefined) return placement.found;
  const { uncertaintySec, driftUncertaintyPpm, residualSec, warning, question, by, evidence } = placement;
  const rest = {
    ...{ uncertaintySec, driftUncertaintyPpm, question },
    ...(residualSec === undefined ? {} : { residualSec }),
    ...(warning === undefined ? {} : { warning }),
  };
  const clock = foundClock(placement);
  if (by === 'found') return { ...clock, ...rest };
  const believed = evidence.filter((one) => one.accepted && one.weight > 0);
  const total = believed.reduce((sum, one) => sum + one.weight, 0);
  if (total <= 0) return undefined;
  const bySec = believed.reduce(
    (sum, one) => sum + (one.weight / total) * (one.atSec - sessionSecOf(placement, one.takeSec)),
    0,
  );
  return { ...clock, ...rest, offsetSec: placement.offsetSec + bySec };
}

function foundClock(clock: Clock): Pick<FoundPlace, 'offsetSec' | 'driftPpm' | 'bends'> {
  const { bends, ...rest } = clockOf(clock);
  return bends === undefined ? rest : { ...rest, bends: [...bends] };
}

/** The placement with all that the user did to it undone; null where nothing was found, so that it is lined up anew. */
export function backToFound(placement: Placement): Placement | null {
  const found = foundOf(placement);
  if (found === undefined) return null;
  const {
    found: _found,
    anchorsAlone: _alone,
    bends: _bends,
    residualSec: _residual,
    warning: _warning,
    ...rest
  } = placement;
  return { ...rest, ...found, by: 'found', evidence: placement.evidence.filter((one) => one.kind !== 'user') };
}

/**
 * A placement that the user laid, with what was found of its take since: it stays where it is, and its pins stay; what it can
 * go back to, and what was heard along the take, is new.
 */
export function withFindings(placement: Placement, found: Placement): Placement {
  const { trail: _trail, found: _found, ...rest } = placement;
  const before = foundOf(found);
  return {
    ...rest,
    ...(found.trail === undefined ? {} : { trail: found.trail }),
    evidence: [
      ...found.evidence.filter((one) => one.kind !== 'user'),
      ...placement.evidence.filter((one) => one.kind === 'user'),
    ],
    ...(before === undefined ? {} : { found: before }),
  };
}

/**
 * The placement with one anchor more. replacing: take time of an anchor that it stands in for, s. A take that was never
 * placed counts as beginning with the session. Refused where the anchors cannot all hold; see `layByAnchors`.
 */
export function withAnchor(placement: Placement | null, anchor: Anchor, replacing?: number): Laid<Placement> {
  const others = anchorsOf(placement).filter((one) => one.takeSec !== replacing);
  return laidBy(
    placement,
    [...others, anchor].sort((a, b) => a.takeSec - b.takeSec),
  );
}

/**
 * The placement without the anchor at a take time, s. Without the last one it goes back to what was found (null where
 * nothing was). A jump before the one that is taken away goes with it. Refused where the others cannot hold without it.
 */
export function withoutAnchor(placement: Placement, takeSec: number): Laid<Placement | null> {
  const left = anchorsOf(placement).filter((one) => one.takeSec !== takeSec);
  return left.length === 0 ? { kind: 'laid', value: backToFound(placement) } : laidBy(placement, left);
}

/** The placement with sound missing between the anchor at `takeSec` and the one before it, at `jumpTakeSec`; null: none is. */
export function withJump(placement: Placement, takeSec: number, jumpTakeSec: number | null): Laid<Placement> {
  return laidBy(
    placement,
    anchorsOf(placement).map((one) => (one.takeSec === takeSec ? { ...one, jumpTakeSec } : one)),
  );
}

/** The placement with the bends that were found counted beside its anchors, or not. */
export function withAnchorsAlone(placement: Placement, alone: boolean): Laid<Placement> {
  const { anchorsAlone: _, ...rest } = placement;
  return laidBy(alone ? { ...rest, anchorsAlone: true } : rest, anchorsOf(placement));
}

/** The evidence after a take was moved as a whole: its anchors move with it, s (positive: later). */
export function anchorsMoved(evidence: readonly Witness[], bySec: number): Witness[] {
  return evidence.map((one) =>
    one.anchor === undefined ? one : { ...one, atSec: one.atSec + bySec, offsetSec: one.offsetSec + bySec },
  );
}

function laidBy(placement: Placement | null, wanted: readonly Anchor[]): Laid<Placement> {
  const anchors = withJumpsInPlace(wanted);
  const found = foundOf(placement);
  const base = found ?? { offsetSec: 0, driftPpm: 0 };
  const alone = placement?.anchorsAlone === true;
  const laid = layByAnchors(alone ? { offsetSec: base.offsetSec, driftPpm: base.driftPpm } : base, anchors);
  if (laid.kind === 'refused') return laid;
  const spanSec = anchors.at(-1)!.takeSec - anchors[0]!.takeSec;
  return {
    kind: 'laid',
    value: {
      ...foundClock(laid.value),
      uncertaintySec: PINNED_UNCERTAINTY_SEC,
      driftUncertaintyPpm:
        anchors.length > 1
          ? (Math.SQRT2 * PINNED_UNCERTAINTY_SEC * 1e6) / spanSec
          : (found?.driftUncertaintyPpm ?? UNHEARD_DRIFT_PPM),
      ...(placement?.trail === undefined ? {} : { trail: placement.trail }),
      confidence: placement?.confidence ?? 1,
      question: null,
      by: 'user',
      evidence: [
        ...(placement?.evidence ?? []).filter((one) => one.kind !== 'user'),
        ...anchors.map((one) => witnessOf(one, laid.value)),
      ],
      ...(found === undefined ? {} : { found }),
      ...(alone ? { anchorsAlone: true as const } : {}),
    },
  };
}

/** Each jump with the anchor it lies before, also after anchors were added and taken away; none before the first. */
function withJumpsInPlace(anchors: readonly Anchor[]): Anchor[] {
  const jumps = anchors.flatMap(({ jumpTakeSec }) => jumpTakeSec ?? []);
  return anchors.map((one, n) => {
    const before = anchors[n - 1];
    const jump = before && jumps.findLast((takeSec) => takeSec > before.takeSec && takeSec <= one.takeSec);
    return { ...one, jumpTakeSec: jump ?? null };
  });
}

function witnessOf({ takeSec, atSec, jumpTakeSec }: Anchor, clock: Clock): Witness {
  return {
    kind: 'user',
    atSec,
    takeSec,
    offsetSec: atSec - takeSec / (1 + clock.driftPpm * 1e-6),
    uncertaintySec: PINNED_UNCERTAINTY_SEC,
    weight: 0,
    accepted: true,
    note: jumpTakeSec === null ? 'Pinned by hand.' : 'Pinned by hand; before it sound is missing or doubled.',
    anchor: { jumpTakeSec },
  };
}
