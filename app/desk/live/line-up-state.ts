import { MOST_RESIDUAL_SEC } from '../../../core/lineup/residual.ts';
import { residualWarning } from '../../../core/session/offset-curve.ts';
import type { Take } from '../../../core/session/schema.ts';
import { counted, names } from './counted-words.ts';
import { type StepsInput, type Told, usable } from './steps-input.ts';

/** Whether the takes have their place in time, and which of them ask. */
export function lineUpStep(input: StepsInput): Told {
  const used = usable(input);
  if (used.length === 0) return ['toDo', 'The takes find their place in time once there are takes.'];
  const asking = used.filter((take) => take.placement !== null && take.placement.question !== null);
  if (asking.length > 0) {
    const where = asking.length === 1 ? 'asks where it belongs' : 'ask where they belong';
    return ['lookHere', `${names(asking)} ${where}.`];
  }
  const open = used.filter((take) => take.placement === null);
  if (open.length > 0 && input.guide?.state === 'missing') {
    return ['lookHere', `${names(open)} cannot be lined up while the guide is missing. Find the guide, or remove it.`];
  }
  if (open.length > 0) return ['toDo', 'The takes are being lined up.'];
  const apart = used.filter(({ placement }) => placement?.by === 'found' && residualWarning(placement) !== null);
  const [first] = apart;
  if (first !== undefined && apart.length === 1 && isMark(first)) {
    return [
      'lookHere',
      `Listen whether the takes are together: they lie by their claps alone, with ${first.name} as mark.`,
    ];
  }
  if (apart.length > 0 && apart.every(isVague)) {
    const place = apart.length === 1 ? `The place of ${names(apart)} is` : `The places of ${names(apart)} are`;
    const most = Math.max(...apart.map(({ placement }) => placement?.uncertaintySec ?? 0));
    return [
      'lookHere',
      `${place} known to about ${Math.round(1000 * most)} ms only. Listen whether the takes are together.`,
    ];
  }
  if (apart.length > 0) {
    const many = apart.length === 1 ? 'may not stay in its place' : 'may not stay in their places';
    return ['lookHere', `${names(apart)} ${many} to the end: look at the curve of offset over time.`];
  }
  const byHand = used.filter((take) => take.placement?.by === 'user').length;
  const hand = byHand === 0 ? '' : ` ${byHand} by hand.`;
  return ['done', `${counted(used.length, 'take has its', 'takes have their')} place.${hand}`];
}

/** Whether all of a take may lie so far off, not only what comes late in it. */
function isVague({ placement }: Take): boolean {
  return (placement?.uncertaintySec ?? 0) > MOST_RESIDUAL_SEC;
}

/** Whether the others lie by this take, so that what is feared of them is told at it. */
function isMark({ placement }: Take): boolean {
  return placement?.warning !== undefined && placement.residualSec === undefined;
}
