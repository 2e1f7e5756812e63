import type { FaultView } from '../../app/shell/contract/desk-view.ts';

/** Faults in groups that are of one kind and ask for the same next step; each group where its first one stands. */
export function alikeFaults(faults: readonly FaultView[]): readonly (readonly FaultView[])[] {
  const groups = new Map<string, FaultView[]>();
  for (const fault of faults) {
    const kind = `${fault.code} ${fault.nextStep}`;
    const group = groups.get(kind);
    if (group === undefined) groups.set(kind, [fault]);
    else group.push(fault);
  }
  return [...groups.values()];
}
