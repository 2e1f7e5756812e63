import type { Placement as Found } from '../../core/lineup/witness.ts';
import { silenceInTake } from '../../core/session/guide-silence.ts';
import type { KeptPlan } from '../../core/session/kept-plan.ts';
import { bendWords } from '../../core/session/offset-curve.ts';
import { isUnplaced, UNPLACED_SEC } from '../../core/session/place-words.ts';
import type { PlacementReport } from '../../core/session/report.ts';
import type { Placement, Span } from '../../core/session/schema.ts';
import type { Clock } from '../../core/signal/clock.ts';

export { exactness, isUnplaced, placedWords } from '../../core/session/place-words.ts';

/** A placement as the session keeps it. A question keeps its best guess, and says that it is one. */
export function keptPlacement(found: Found): Placement {
  const evidence = found.evidence.map(
    ({ kind, atSec, takeSec, offsetSec, uncertaintySec, weight, accepted, note }) => ({
      kind,
      atSec,
      takeSec,
      offsetSec,
      uncertaintySec,
      weight,
      accepted,
      note,
    }),
  );
  if (found.kind === 'placed') {
    const { offsetSec, driftPpm, bends, uncertaintySec, driftUncertaintyPpm, confidence } = found;
    const { residualSec, trail, warning } = found;
    return {
      offsetSec,
      driftPpm,
      ...(bends === undefined ? {} : { bends: [...bends] }),
      uncertaintySec,
      driftUncertaintyPpm,
      ...(residualSec === undefined ? {} : { residualSec }),
      ...(trail === undefined ? {} : { trail: [...trail] }),
      ...(warning === undefined ? {} : { warning }),
      confidence,
      question: null,
      by: 'found',
      evidence,
    };
  }
  return {
    offsetSec: found.best?.offsetSec ?? 0,
    driftPpm: found.best?.driftPpm ?? 0,
    uncertaintySec: found.best?.uncertaintySec ?? UNPLACED_SEC,
    driftUncertaintyPpm: 100,
    confidence: found.confidence,
    question: found.reason,
    by: 'found',
    evidence,
  };
}

/** A placement as reports show it. */
export function placementReport(placement: Placement): PlacementReport {
  const {
    question: asked,
    by: _by,
    driftUncertaintyPpm: _drift,
    found: _found,
    anchorsAlone: _alone,
    ...rest
  } = placement;
  return { ...rest, question: asked };
}

/** What a take's clock did on the way, and that it is mended, in sentences; none where it runs evenly. */
export function clockNotes({ driftPpm, bends = [] }: Clock): string[] {
  return bends.map((bend, n) => {
    const before = bends[n - 1]?.driftPpm ?? driftPpm;
    const tenths = Math.round(10 * bend.takeSec);
    const at = `${Math.floor(tenths / 600)}:${((tenths % 600) / 10).toFixed(1).padStart(4, '0')}`;
    const words = bendWords(bend, before);
    const what = words.startsWith('lost') ? `the recorder ${words}` : `its clock: ${words}`;
    return `At ${at} of the take ${what}; mended.`;
  });
}

/** Where a take has the guide's silence, in its own time, once its place is sure; undefined where that is not known. */
export function expectedSilence(plan: KeptPlan | null, placement: Placement | null): Span | undefined {
  if (plan === null || placement === null || isUnplaced(placement)) return undefined;
  if (placement.by === 'found' && placement.question !== null) return undefined;
  const { fromSec, toSec } = silenceInTake(plan, placement);
  return toSec > 0 ? { fromSec: Math.max(0, fromSec), toSec } : undefined;
}
