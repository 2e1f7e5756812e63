import type { Edit } from '../../../core/session/edit.ts';
import type { Session, Take, Voice } from '../../../core/session/schema.ts';
import { freeColour } from './take-edits.ts';

/**
 * How clips that came in together are given to voices: as their names tell, so many in a row, each to a voice of its own, or
 * clip by clip as the user says.
 */
export type GroupRule = 'name' | 'order' | 'clip' | 'hand';

/** Takes that are of one voice, in order, by their ids. voiceId: which voice that is; null for that of the first of them, or a new one. */
export interface Group {
  readonly voiceId: string | null;
  readonly takeIds: readonly string[];
}

/** By hand: the voice of a take, by its id; null for a voice of its own. */
export type ByHand = Readonly<Record<string, string | null>>;

/**
 * The groups a rule makes of takes. each: for 'order'. 'name' is how they lie now, since names counted as they came in. By order, voices
 * that wait for their first take (those of the guide's score, say) get theirs first, from top to bottom.
 */
export function groupsOf(
  session: Session,
  takeIds: readonly string[],
  rule: GroupRule,
  each: number,
  byHand: ByHand = {},
): readonly Group[] {
  if (rule === 'clip') return takeIds.map((id) => ({ voiceId: null, takeIds: [id] }));
  if (rule === 'order') {
    const size = Math.max(1, each);
    const waiting = session.voices.filter(({ id }) => session.takes.every(({ voiceId }) => voiceId !== id));
    return Array.from({ length: Math.ceil(takeIds.length / size) }, (_, n) => ({
      voiceId: waiting[n]?.id ?? null,
      takeIds: takeIds.slice(n * size, (n + 1) * size),
    }));
  }
  const groups = new Map<string, Group>();
  for (const take of takesIn(session, takeIds)) {
    const chosen = rule === 'hand' ? byHand[take.id] : undefined;
    const voiceId = chosen === undefined ? take.voiceId : chosen;
    const key = voiceId ?? `own ${take.id}`;
    groups.set(key, { voiceId, takeIds: [...(groups.get(key)?.takeIds ?? []), take.id] });
  }
  return [...groups.values()];
}

/** What a group's voice is or will be called; a voice that a group before it has taken is not taken again. */
export function groupNames(session: Session, groups: readonly Group[]): string[] {
  return groupVoices(session, groups).map(({ voice, take }) => voice?.name ?? take?.name ?? '');
}

/** For each group the voice it gets, undefined for a new one, and its first take. */
function groupVoices(
  session: Session,
  groups: readonly Group[],
): { readonly voice: Voice | undefined; readonly take: Take | undefined }[] {
  const used = new Set(groups.flatMap(({ voiceId }) => voiceId ?? []));
  return groups.map((group) => {
    const take = session.takes.find(({ id }) => id === group.takeIds[0]);
    if (group.voiceId !== null) return { voice: session.voices.find(({ id }) => id === group.voiceId), take };
    const home = session.voices.find(({ id }) => id === take?.voiceId);
    if (home === undefined || used.has(home.id)) return { voice: undefined, take };
    used.add(home.id);
    return { voice: home, take };
  });
}

/**
 * Gives takes to voices as they are grouped, in one step of undo; voices that lose all their takes go. newIds: ids that are not
 * in use, one a group. undefined where nothing would change.
 */
export function regroupEdit(session: Session, groups: readonly Group[], newIds: readonly string[]): Edit | undefined {
  const homeOf = new Map(session.takes.map(({ id, voiceId }) => [id, voiceId]));
  const edits: Exclude<Edit, { kind: 'together' }>[] = [];
  groupVoices(session, groups).forEach(({ voice, take }, n) => {
    if (take === undefined) return;
    const voiceId = voice?.id ?? newIds[n]!;
    if (voice === undefined) {
      const made = edits.filter(({ kind }) => kind === 'addVoice').length;
      edits.push({ kind: 'addVoice', voice: newVoice(voiceId, take.name, (freeColour(session) + made) % 6) });
    }
    for (const id of groups[n]!.takeIds) {
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
  const count = groups.reduce((sum, { takeIds }) => sum + takeIds.length, 0);
  return { kind: 'together', label: `give ${count} takes to ${groups.length} voices`, edits };
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
