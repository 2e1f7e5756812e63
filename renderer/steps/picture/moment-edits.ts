import type { SpanView } from '../../../app/shell/contract/desk-view.ts';
import type { Edit } from '../../../core/session/edit.ts';
import type { TileChoice } from '../../../core/session/picture-schema.ts';

export type MomentChoice = NonNullable<TileChoice['moments']>[number];

/** The tile with other moments; none of them: as before there were any. Pure. */
export function withMoments(tile: TileChoice, moments: readonly MomentChoice[]): TileChoice {
  const { moments: _, ...rest } = tile;
  const sorted = moments.toSorted((one, other) => one.fromSec - other.fromSec);
  return sorted.length === 0 ? rest : { ...rest, moments: sorted };
}

/** Moments for stretches that are not there already: those that another of the same kind overlaps are left out. Pure. */
export function addedMoments(
  before: readonly MomentChoice[],
  stretches: readonly SpanView[],
  as: 'large' | 'away',
): MomentChoice[] {
  const overlaps = (one: SpanView, other: SpanView): boolean => one.fromSec < other.toSec && other.fromSec < one.toSec;
  const fresh = stretches.filter((stretch) => !before.some((one) => one.as === as && overlaps(one, stretch)));
  return [...before, ...fresh.map(({ fromSec, toSec }): MomentChoice => ({ fromSec, toSec, as, soft: true }))];
}

/** The edit by which each voice's tile is large in its solos, as one step; null where nothing would change. */
export function soloEdits(
  tiles: readonly TileChoice[],
  solos: Readonly<Record<string, readonly SpanView[]>>,
): Edit | null {
  const edits = tiles.flatMap((tile): Edit[] => {
    const before = tile.moments ?? [];
    const after = addedMoments(before, solos[tile.voiceId] ?? [], 'large');
    return after.length === before.length
      ? []
      : [{ kind: 'setTile', voiceId: tile.voiceId, tile: withMoments(tile, after) }];
  });
  return edits.length === 0 ? null : { kind: 'together', label: 'tiles large in their solos', edits };
}
