import type { Placement } from './schema.ts';

/** Parts of a placement that may be absent. */
export const placementParts = ['bends', 'residualSec', 'trail', 'warning', 'found', 'anchorsAlone'] as const;
export type PlacementPart = (typeof placementParts)[number];

/** A placement with some of its parts changed and others gone. */
export function withChanges(
  placement: Placement,
  changes: Partial<Placement>,
  gone: readonly PlacementPart[],
): Placement {
  const changed: Partial<Placement> & Placement = { ...placement, ...changes };
  const left = Object.entries(changed).filter(([name]) => !(gone as readonly string[]).includes(name));
  return Object.fromEntries(left) as Placement;
}
