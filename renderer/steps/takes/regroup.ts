import type { Edit } from '../../../core/session/edit.ts';
import type { Session, Take, Voice } from '../../../core/session/schema.ts';
import { freeColour } from './take-edits.ts';

/** How clips that came in together are given to voices: as their names tell, so many in a row, or each to a voice of its own. */
export type GroupRule = 'name' | 'order' | 'clip';

/** Takes that are of one voice, in order, by their ids. */
export type Groups = readonly (readonly string[])[];

/** The groups a rule makes of takes. each: for 'order'. 'name' is how they lie now, since names counted as they came in. */
export function groupsOf(session: Session, takeIds: readonly string[], rule: GroupRule, each: number): Groups {
  if (rule === 'clip') return takeIds.map((id) => [id]);
  if (rule === 'order') {
    const size = Math.max(1, each);
    return Array.from({ length: Math.ceil(takeIds.length / size) }, (_, n) => takeIds.slice(n * size, (n + 1) * size));
  }
  const voices = new Map<string, string[]>();
  for (const take of takesIn(session, takeIds))
    voices.set(take.voiceId, [...(voices.get(take.voiceId) ?? []), take.id]);
  return [...voices.values()];
}

/** What a group's voice is or will be called: that of its first take, where no group before it has taken that voice. */
export function groupNames(session: Session, groups: Groups): string[] {
  const used = new Set<string>();
  return groups.map(([first]) => {
    const take = session.takes.find(({ id }) => id === first);
    const voice = session.voices.find(({ id }) => id === take?.voiceId);
    if (take === undefined || voice === undefined) return '';
    if (used.has(voice.id)) return take.name;
    used.add(voice.id);
    return voice.name;
  });
}

/**
 * Gives takes to voices as they are grouped, in one step of undo: each group gets the voice of its first take, or a new one; voices that
 * lose all their takes go. newIds: ids that are not in use, one a group. undefined where nothing would change.
 */
export function regroupEdit(session: Session, groups: Groups, newIds: readonly string[]): Edit | undefined {
  const names = groupNames(session, groups);
  const takes = new Map(session.takes.map((take) => [take.id, take]));
  const homeOf = new Map(session.takes.map(({ id, voiceId }) => [id, voiceId]));
  const used = new Set<string>();
  const edits: Exclude<Edit, { kind: 'together' }>[] = [];
  groups.forEach(([first, ...rest], n) => {
    const take = first === undefined ? undefined : takes.get(first);
    if (first === undefined || take === undefined) return;
    let voiceId = take.voiceId;
    if (used.has(voiceId)) {
      voiceId = newIds[n]!;
      const colour = (freeColour(session) + used.size) % 6;
      edits.push({ kind: 'addVoice', voice: newVoice(voiceId, names[n]!, colour) });
    }
    used.add(voiceId);
    for (const id of [first, ...rest]) {
      if (homeOf.get(id) === voiceId) continue;
      edits.push({ kind: 'moveTake', takeId: id, voiceId });
      homeOf.set(id, voiceId);
    }
  });
  if (edits.length === 0) return undefined;
  const left = new Set(homeOf.values());
  // Voices that had no take before wait for one.
  const had = new Set(session.takes.map(({ voiceId }) => voiceId));
  for (const voiceId of had) if (!left.has(voiceId)) edits.push({ kind: 'removeVoice', voiceId });
  for (const voiceId of left) {
    const own = [...homeOf].filter(([, home]) => home === voiceId).map(([id]) => id);
    const chosen = session.voices.find(({ id }) => id === voiceId)?.chosenTakeId ?? null;
    // What a voice sounded with stays; one that has lost it, or is new, sounds with its first.
    if (chosen === null || !own.includes(chosen)) edits.push({ kind: 'chooseTake', voiceId, takeId: own[0]! });
  }
  return { kind: 'together', label: `give ${groups.flat().length} takes to ${groups.length} voices`, edits };
}

function takesIn(session: Session, takeIds: readonly string[]): Take[] {
  return takeIds.flatMap((id) => session.takes.find((take) => take.id === id) ?? []);
}

function newVoice(id: string, name: string, colour: number): Voice {
  return {
    id,
    name,
    role: 'inner',
    colour,
    trimDb: 0,
    placeDeg: null,
    muted: false,
    chosenTakeId: null,
    passages: null,
  };
}
