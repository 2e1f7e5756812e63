import { basename, resolve } from 'node:path';
import type { Edit } from '../../../core/session/edit.ts';
import type { CleanChoice, Role, Session, Voice } from '../../../core/session/schema.ts';
import type { AssignedVoice } from '../assignment.ts';
import type { Attempt } from '../attempts.ts';
import { rolesOf, voiceKeyOf } from '../names.ts';
import type { TakenIn } from '../take-in.ts';

type SingleEdit = Exclude<Edit, { kind: 'together' }>;

const COLOURS = 6;
const LONGEST_NAME = 200;

/** Clips that are to come into a session, given to voices. */
export interface Incoming {
  readonly voices: readonly AssignedVoice[];
  /** Their takes, voice by voice; none of a clip that the session has already. */
  readonly attempts: readonly Attempt[];
  readonly clean: CleanChoice;
  /** Part of the name of the voice that leads; only for a session that has no voices yet. */
  readonly lead?: string | undefined;
}

/** What comes in, and under which ids. */
export interface Addition {
  readonly edit: Edit | undefined;
  /** One an attempt. */
  readonly takeIds: readonly string[];
  /** One a voice of `Incoming`; null for one of which nothing came. */
  readonly voiceIds: readonly (string | null)[];
  /** Voices that had no take before: which of theirs sounds is to be chosen; until then it is the first. */
  readonly toChoose: readonly string[];
}

/**
 * The edit that adds takes to a session, one step of undo. Voices are known by their names, whatever attempt these count; of a
 * voice that is there already what sounds stays what it was.
 */
export function additionTo(session: Session, incoming: Incoming, keptPath: (file: string) => string): Addition {
  const { voices, attempts, clean } = incoming;
  const freshVoice = freshIds('voice', session.voices);
  const freshTake = freshIds('take', session.takes);
  const roles = rolesOfNew(session, incoming);
  const edits: SingleEdit[] = [];
  const takeIds = attempts.map(() => freshTake());
  const toChoose: string[] = [];
  let made = 0;
  const voiceIds = voices.map(({ name }, at) => {
    const own = attempts.flatMap((attempt, index) => (attempt.voice === at ? [{ attempt, id: takeIds[index]! }] : []));
    if (own.length === 0) return null;
    const there = voiceCalled(session, name);
    const id = there?.id ?? freshVoice();
    if (there === undefined) {
      const colour = (session.voices.length + made++) % COLOURS;
      edits.push({ kind: 'addVoice', voice: newVoice(id, name.slice(0, LONGEST_NAME), roles[at]!, colour) });
    }
    for (const { attempt, id: takeId } of own) edits.push(addTake(takeId, id, attempt, clean, keptPath));
    const before = session.takes.filter(({ voiceId }) => voiceId === id);
    if (before.length === 0 && !toChoose.includes(id)) {
      toChoose.push(id);
      edits.push({ kind: 'chooseTake', voiceId: id, takeId: own[0]!.id });
    } else if (before.length === 1 && there !== undefined && there.chosenTakeId === null && there.passages === null) {
      // Its only take sounded without being chosen; with several it would fall silent.
      edits.push({ kind: 'chooseTake', voiceId: id, takeId: before[0]!.id });
    }
    return id;
  });
  const label = attempts.length === 1 ? `add ${attempts[0]!.name}`.slice(0, 200) : `add ${attempts.length} takes`;
  return { edit: edits.length === 0 ? undefined : { kind: 'together', label, edits }, takeIds, voiceIds, toChoose };
}

/** The voice of a session that a name tells of: one called just so, else the first that differs in the count of the attempt only. */
export function voiceCalled({ voices }: Session, name: string): Voice | undefined {
  return (
    voices.find((voice) => voice.name === name) ?? voices.find((voice) => voiceKeyOf(voice.name) === voiceKeyOf(name))
  );
}

/** Clips that a session does not have yet, and a sentence on each that it has. */
export function clipsNotIn(
  session: Session,
  taken: readonly TakenIn[],
): { readonly isNew: readonly boolean[]; readonly notes: readonly string[] } {
  const known = new Map(session.takes.map((take) => [take.clip.fingerprint, take.name]));
  const isNew = taken.map(({ fingerprint }) => !known.has(fingerprint));
  const notes = taken.flatMap(({ file, fingerprint }) => {
    const name = known.get(fingerprint);
    return name === undefined
      ? []
      : [`${basename(file)} is in the session already, as "${name}"; a clip is used once.`];
  });
  return { isNew, notes };
}

/** Clips without those named a second time, and the names of those. */
export function withoutRepeats(clips: readonly string[]): { clips: string[]; twice: string[] } {
  const seen = new Set<string>();
  const kept: string[] = [];
  const twice: string[] = [];
  for (const clip of clips) {
    const path = resolve(clip);
    if (seen.has(path)) twice.push(basename(clip));
    else kept.push(clip);
    seen.add(path);
  }
  return { clips: kept, twice };
}

/** As the roles of voices are told from: "voice (file)". */
export function roleName(voice: AssignedVoice): string {
  return `${voice.name} (${basename(voice.clips[0]!)})`;
}

function rolesOfNew(session: Session, { voices, lead }: Incoming): Role[] {
  return rolesOf(voices.map(roleName), session.voices.length === 0 ? lead : undefined);
}

/** Ids not yet in use, one after the other. */
export function freshIds(stem: string, used: readonly { readonly id: string }[]): () => string {
  const numbers = used.map(({ id }) => Number(id.startsWith(`${stem}-`) ? id.slice(stem.length + 1) : Number.NaN));
  let last = Math.max(0, ...numbers.filter(Number.isFinite));
  return () => `${stem}-${++last}`;
}

export function newVoice(id: string, name: string, role: Role, colour: number): Voice {
  return { id, name, role, colour, trimDb: 0, placeDeg: null, muted: false, chosenTakeId: null, passages: null };
}

function addTake(
  id: string,
  voiceId: string,
  { name, taken, part, isBrokenOff }: Attempt,
  clean: CleanChoice,
  keptPath: (file: string) => string,
): SingleEdit {
  const { file, sizeBytes, fingerprint } = taken;
  return {
    kind: 'addTake',
    take: {
      id,
      name,
      voiceId,
      clip: { path: keptPath(file), sizeBytes, fingerprint },
      silence: null,
      clean,
      placement: null,
      mark: isBrokenOff ? 'no' : 'none',
      remark: '',
      part,
      mend: null,
    },
  };
}
