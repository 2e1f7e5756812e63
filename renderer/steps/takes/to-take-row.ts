import { toPart } from '../../frame/to-place.ts';

/** Gives the row of a take the focus once the screen shows it, from where Tab goes on into it, and brings it into view. */
export function toTakeRow(takeId: string): void {
  requestAnimationFrame(() => {
    const row = document.querySelector<HTMLElement>(`.takes-row[data-take="${CSS.escape(takeId)}"]`);
    toPart(row ?? undefined);
    row?.scrollIntoView({ block: 'nearest' });
  });
}
