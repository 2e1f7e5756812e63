import type { CleanChoice } from '../../../core/session/schema.ts';
import { PartsongError } from '../../../core/signal/fault.ts';
import type { AssignedVoice } from '../assignment.ts';
import { type Attempt, attemptsOf } from '../attempts.ts';
import { guideFileBeside, guideFileOf, keepGuideFile, keptGuideFile, keptPlanOf } from '../guide-file.ts';
import { judgeAttempts } from '../judge-attempts.ts';
import { guideEdit } from '../live/guide-edit.ts';
import { countOf } from '../render-mix.ts';
import type { TakenIn } from '../take-in.ts';
import { takeInWithGuide } from '../take-in-with-guide.ts';
import { type Addition, additionTo, clipsNotIn } from './add-takes.ts';
import type { Draft } from './draft.ts';
import { placeTakes } from './place-takes.ts';
import { type Running, runs } from './session-work.ts';

/** What is to come into a session. */
export interface BringInWish {
  readonly voices: readonly AssignedVoice[];
  /** The takes that a clip seems to hold are takes of their own. */
  readonly apart: boolean;
  /** What was heard while recording, where it is new to the session. */
  readonly guide?: string | undefined;
  readonly lead?: string | undefined;
  readonly clean: CleanChoice;
}

/** What came in. */
export interface BroughtIn {
  /** Takes that were read, by their ids. */
  readonly read: ReadonlyMap<string, TakenIn>;
  readonly notes: readonly string[];
}

export const USUAL_CLEAN: CleanChoice = { on: true, character: 'even', rule: 'lsa', fine: null };

/**
 * Takes clips, and a guide, into a draft: reads them, adds them as takes, lines up what has no place yet, and chooses the
 * proposed take of each voice that had none before. What the session had stays as it was.
 */
export async function bringIn(draft: Draft, wish: BringInWish, running: Running): Promise<BroughtIn> {
  const { desk } = draft;
  const { cache, pool } = desk;
  const files = wish.voices.flatMap((voice) => voice.clips);
  const listening = runs(running, `Listening to ${countOf(files.length)}`);
  const { takes: taken, guide } = await takeInWithGuide(files, wish.guide, cache, pool, listening);
  const guideNotes = await takeGuide(draft, guide);
  const { isNew, notes } = clipsNotIn(desk.session, taken);
  const { voices, fresh } = onlyNew(wish.voices, taken, isNew);
  const plan = draft.session.guide?.plan ?? null;
  const attempts = await attemptsOf(voices, fresh, wish.apart, cache, pool, { signal: running.signal, plan });
  const addition = additionTo(draft.session, { ...wish, voices, attempts }, (file) => desk.keptPath(file));
  draft.decide(addition.edit);
  const read = new Map(attempts.map((attempt, index) => [addition.takeIds[index]!, attempt.taken]));
  await placeTakes(draft, read, running, { guide });
  const chosen = await chooseProposed(draft, attempts, addition, running);
  return { read, notes: [...notes, ...chosen, ...guideNotes] };
}

/** Makes a guide that was read the session's; gives what its plan's file tells. */
async function takeGuide(draft: Draft, guide: TakenIn | undefined): Promise<readonly string[]> {
  if (guide === undefined) return [];
  const { file, notes } = await guideFileOf(guide);
  const { sizeBytes, fingerprint } = guide;
  const clip = { path: draft.desk.keptPath(guide.file), sizeBytes, fingerprint };
  draft.decide(guideEdit(draft.session, clip, keptPlanOf(file)));
  return notes;
}

/** The guide's score goes into the session's folder, for whatever comes after. To be called once the session is kept. */
export async function keepGuide(draft: Draft, guide: string | undefined): Promise<void> {
  const { folder, session } = draft.desk;
  const kept = session.guide;
  if (guide === undefined || kept?.plan == null) return;
  const beside = await guideFileBeside(guide);
  if (beside !== undefined) await keepGuideFile(folder, kept.clip.fingerprint, beside);
}

function onlyNew(
  voices: readonly AssignedVoice[],
  taken: readonly TakenIn[],
  isNew: readonly boolean[],
): { readonly voices: readonly AssignedVoice[]; readonly fresh: readonly TakenIn[] } {
  let at = 0;
  const left = voices.flatMap(({ name, clips }) => {
    const own = clips.filter(() => isNew[at++]);
    return own.length === 0 ? [] : [{ name, clips: own }];
  });
  return { voices: left, fresh: taken.filter((_, index) => isNew[index]) };
}

/** Of each voice that had no take before and gets several, the proposed one sounds; where none can be used it is the first. */
async function chooseProposed(
  draft: Draft,
  attempts: readonly Attempt[],
  { takeIds, voiceIds, toChoose }: Addition,
  running: Running,
): Promise<readonly string[]> {
  const { cache, pool, folder } = draft.desk;
  const ownOf = (voiceId: string): number[] =>
    attempts.flatMap(({ voice }, index) => (voiceIds[voice] === voiceId ? [index] : []));
  if (toChoose.every((voiceId) => ownOf(voiceId).length < 2)) return [];
  const { takes, guide } = draft.session;
  const placements = takeIds.map((id) => takes.find((take) => take.id === id)!.placement);
  const file = guide?.plan == null ? undefined : await guideOf(draft, folder, guide.clip.fingerprint, guide.clip.path);
  // One that could not be placed at all says nothing of where its music is.
  const places = placements.map((placement) => {
    if (placement === null) throw new PartsongError('bad-option', 'A take has no place.', 'Line it up first.');
    return { placement, found: placement };
  });
  const played = { score: file?.score, plan: file?.plan };
  const judged = await judgeAttempts(attempts, places, cache, pool, { ...running, plan: guide?.plan, played });
  const notes: string[] = [];
  for (const voiceId of toChoose) {
    const own = ownOf(voiceId);
    const best = judged.find((voice) => voice.best !== null && own.includes(voice.best.index))?.best ?? null;
    if (own.length < 2 || best === null) continue;
    const takeId = takeIds[best.index]!;
    draft.decide({ kind: 'chooseTake', voiceId, takeId });
    notes.push(`Of ${own.length} takes ${attempts[best.index]!.name} is mixed. ${best.reason}`);
  }
  return notes;
}

/** What lies beside a guide that has just come in, else what the session keeps of it. */
async function guideOf(draft: Draft, folder: string, fingerprint: string, path: string) {
  return (await guideFileBeside(draft.desk.fullPath(path))) ?? (await keptGuideFile(folder, fingerprint));
}
