import type { Edit } from './edit.ts';
import { placementParts } from './placement-parts.ts';
import type { Placement, Session } from './schema.ts';

/**
 * The same edit without what it does not change: where a take keeps what was heard along it (its trail, some 40 kB of a long take),
 * only the other parts of its placement are told. So a take that is dragged costs little in the history, and on its way to the
 * screens. For this session only. The very edit where nothing is saved.
 */
export function smallerEdit(session: Session, edit: Edit): Edit {
  if (edit.kind === 'together') {
    const edits = edit.edits.map((one) => smallerEdit(session, one));
    // Only what earlier edits of the same step leave alone can be told by what differs from the session before it.
    const takes = edit.edits.flatMap((one) => ('takeId' in one && one.takeId !== null ? [one.takeId] : []));
    const isPlain = new Set(takes).size === takes.length && edits.every((one) => one.kind !== 'together');
    return isPlain && edits.some((one, n) => one !== edit.edits[n]) ? { ...edit, edits } : edit;
  }
  if (edit.kind !== 'setPlacement' || edit.placement === null) return edit;
  const before = session.takes.find(({ id }) => id === edit.takeId)?.placement ?? null;
  if (before?.trail === undefined || !isSame(before.trail, edit.placement.trail)) return edit;
  const after = edit.placement;
  const changes = Object.fromEntries(
    Object.entries(after).filter(([name, value]) => !isSame(value, before[name as keyof Placement])),
  );
  const gone = placementParts.filter((name) => before[name] !== undefined && after[name] === undefined);
  return { kind: 'changePlacement', takeId: edit.takeId, changes, gone };
}

/** The same JSON, whatever the order of its fields. */
function isSame(one: unknown, other: unknown): boolean {
  if (one === other) return true;
  if (typeof one !== 'object' || typeof other !== 'object' || one === null || other === null) return false;
  if (Array.isArray(one) !== Array.isArray(other)) return false;
  const [mine, theirs] = [Object.entries(one), new Map(Object.entries(other))];
  return (
    mine.length === theirs.size && mine.every(([name, value]) => theirs.has(name) && isSame(value, theirs.get(name)))
  );
}
