import type { SeveralView } from '../../../app/shell/contract/desk-view.ts';
import type { WantedPart } from '../../../core/session/split-take.ts';
import { LEAST_PART_SEC } from '../../../core/session/take-part.ts';

/** Parts of a clip as they are being settled: they follow one another, and some are left out. */
export interface PartDraft {
  /** Where each begins, and the end of the last, clip time, s. */
  readonly edgesSec: readonly number[];
  readonly used: readonly boolean[];
  readonly brokenOff: readonly boolean[];
}

/** What the desk found, to begin with: all of it is used. */
export function draftOf(several: SeveralView): PartDraft {
  const { parts } = several;
  return {
    edgesSec: [...parts.map(({ fromSec }) => fromSec), parts.at(-1)?.toSec ?? 0],
    used: parts.map(() => true),
    brokenOff: parts.map(({ isBrokenOff }) => isBrokenOff),
  };
}

/** The times between which an edge can lie, s. */
export function edgeRange({ edgesSec }: PartDraft, index: number, clipSec: number): { min: number; max: number } {
  const before = edgesSec[index - 1];
  const after = edgesSec[index + 1];
  return {
    min: before === undefined ? 0 : before + LEAST_PART_SEC,
    max: after === undefined ? clipSec : after - LEAST_PART_SEC,
  };
}

/** With one edge moved, as far as its neighbours let it, to a hundredth of a second. */
export function withEdge(draft: PartDraft, index: number, atSec: number, clipSec: number): PartDraft {
  const { min, max } = edgeRange(draft, index, clipSec);
  const held = Math.max(min, Math.min(max, Math.round(atSec * 100) / 100));
  return { ...draft, edgesSec: draft.edgesSec.with(index, held) };
}

export function withUsed(draft: PartDraft, index: number, used: boolean): PartDraft {
  return { ...draft, used: draft.used.with(index, used) };
}

/** The parts that are to be takes, in order. */
export function wantedParts({ edgesSec, used, brokenOff }: PartDraft): WantedPart[] {
  return used.flatMap((isUsed, n) =>
    isUsed ? [{ fromSec: edgesSec[n]!, toSec: edgesSec[n + 1]!, isBrokenOff: brokenOff[n]! }] : [],
  );
}
