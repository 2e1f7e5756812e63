import { resolve } from 'node:path';
import { heardTakes, soundingTake } from '../../core/session/passages.ts';
import type { Session } from '../../core/session/schema.ts';
import { PartsongError } from '../../core/signal/fault.ts';
import { readScore } from '../score/read-score.ts';
import { type AssignRule, assignClips, type NamedVoice } from './assignment.ts';
import type { Attempt } from './attempts.ts';
import { keptGuideFile } from './guide-file.ts';
import { type JudgedVoice, judgeAttempts } from './judge-attempts.ts';
import { clipsWhere, relinkEdit, searchClips } from './missing-clips.ts';
import { time } from './report/markup.ts';
import { withoutRepeats } from './session/add-takes.ts';
import { bringIn, keepGuide, USUAL_CLEAN } from './session/bring-in.ts';
import type { Draft } from './session/draft.ts';
import { takeNamed } from './session/named.ts';
import { placeTakes } from './session/place-takes.ts';
import { readTakes, type TakesRead } from './session/read-takes.ts';
import { type Running, runs, withSession } from './session/session-work.ts';
import {
  chooseTake,
  giveToVoices,
  markByHand,
  partAll,
  partByHand,
  partHands,
  remarkByHand,
  type SpanReader,
} from './session/take-choices.ts';
import { useStretch } from './session/use-stretch.ts';
import { sheetVoice, type TakesSheet } from './takes-sheet.ts';

/** What is said of a session's takes, as on the command line; each list in its order. */
export interface TakeWords {
  /** "TAKE=FROM-TO" of its clip: a take of its own. */
  readonly parts: readonly string[];
  /** "TAKE=FROM-TO" of its clip, or "TAKE=whole": all that the take is. */
  readonly bounds: readonly string[];
  readonly marks: readonly string[];
  readonly remarks: readonly string[];
  /** Names of takes, or 'proposed' for the proposed take of each voice with several. */
  readonly choose: readonly string[];
  /** "TAKE=FROM-TO" in session time. */
  readonly use: readonly string[];
}

export interface TakesSessionOptions extends Running, TakeWords {
  readonly session: string;
  /** Clips that come in as takes. */
  readonly clips: readonly string[];
  readonly rule: AssignRule;
  /** Voices whose clips, or takes, are named by hand. */
  readonly byHand: readonly NamedVoice[];
  readonly apart: boolean;
  readonly guide?: string | undefined;
  /** A folder in which clips that are away are looked for. */
  readonly find?: string | undefined;
  /** Timing and pitch are measured too. */
  readonly played: boolean;
  readonly score?: string | undefined;
  readonly spanOf: SpanReader;
}

/** The takes of a session, what was done to them, and what sounds. */
export interface TakesOfSession extends TakesSheet {
  readonly voices: readonly (TakesSheet['voices'][number] & {
    /** What the voice sounds with, for people; null for nothing. */
    readonly sounds: string | null;
  })[];
  /** What was changed in the session, sentences for people. */
  readonly done: readonly string[];
  readonly notes: readonly string[];
}

/**
 * Brings clips into a session, does to its takes what is said, and compares the takes of each voice. Nothing else is decided; the
 * session is as it was where anything fails. Throws PartsongError or CancelledError.
 */
export async function takesOfSession(options: TakesSessionOptions): Promise<TakesOfSession> {
  const score = options.score === undefined ? undefined : await readScore(options.score);
  const { value, notes } = await withSession(options.session, async (draft) => {
    const done: string[] = [];
    const told: string[] = [];
    if (options.find !== undefined) done.push(...(await foundAgain(draft, options.find, options)));
    told.push(...(await broughtIn(draft, options, done)));
    const read = await changed(draft, options, done);
    const judged = await judgedTakes(draft.session, read, draft, options, score);
    for (const name of options.choose) done.push(...chosen(draft, name, judged));
    for (const text of options.use) done.push(await useStretch(draft, text, options.spanOf, read, options));
    if (options.guide !== undefined) draft.keep();
    await keepGuide(draft, options.guide);
    return { voices: sheetOf(draft.session, judged), done, told };
  });
  return { voices: value.voices, done: value.done, notes: [...notes, ...value.told] };
}

/** Clips that are away are found again by content; gives what was found. */
async function foundAgain(draft: Draft, folder: string, running: Running): Promise<string[]> {
  const { desk, session } = draft;
  const { signal } = running;
  const wanted = (await clipsWhere(session, desk.folder, { signal })).filter(({ state }) => state !== 'there');
  if (wanted.length === 0) return ['All clips are where they were.'];
  const { found, notes } = await searchClips(resolve(folder), wanted, runs(running, 'Looking for clips'));
  if (found.length > 0) draft.decide(relinkEdit(found, (file) => desk.keptPath(file)));
  return [...found.map(({ file }) => `Found again: ${file}`), ...notes];
}

async function broughtIn(draft: Draft, options: TakesSessionOptions, done: string[]): Promise<readonly string[]> {
  const hands = partHands(draft.session, options.byHand);
  const { clips, twice } = withoutRepeats(options.clips);
  const voices = assignClips(clips, options.rule, hands.clips);
  const told = twice.map((file) => `${file} was named twice and is used once.`);
  if (voices.length > 0 || options.guide !== undefined) {
    const before = new Set(draft.session.takes.map(({ id }) => id));
    const { guide, apart } = options;
    told.push(...(await bringIn(draft, { voices, apart, guide, clean: USUAL_CLEAN }, options)).notes);
    for (const { id, name, voiceId } of draft.session.takes) {
      const voice = draft.session.voices.find((one) => one.id === voiceId)!;
      if (!before.has(id)) done.push(`${name}: now a take of the voice ${voice.name}.`);
    }
  }
  done.push(...giveToVoices(draft, hands.takes));
  return told;
}

/** Parts clips and marks takes as said; gives all takes, read and placed. */
async function changed(draft: Draft, options: TakesSessionOptions, done: string[]): Promise<TakesRead> {
  let read = await readTakes(draft.session.takes, draft.desk, options);
  if (options.apart) done.push(...partAll(draft, read));
  for (const text of options.parts) done.push(partByHand(draft, text, 'part', options.spanOf));
  for (const text of options.bounds) done.push(partByHand(draft, text, 'bounds', options.spanOf));
  if (options.apart || options.parts.length > 0 || options.bounds.length > 0) {
    read = await readTakes(draft.session.takes, draft.desk, options);
  }
  await placeTakes(draft, read, options);
  for (const text of options.marks) done.push(markByHand(draft, text));
  for (const text of options.remarks) done.push(remarkByHand(draft, text));
  return read;
}

async function judgedTakes(
  session: Session,
  read: TakesRead,
  draft: Draft,
  options: TakesSessionOptions,
  score: Awaited<ReturnType<typeof readScore>> | undefined,
): Promise<JudgedVoice[]> {
  const { cache, pool, folder } = draft.desk;
  const file = session.guide === null ? undefined : await keptGuideFile(folder, session.guide.clip.fingerprint);
  const attempts = session.takes.map(
    ({ id, name, voiceId, part, mark }): Attempt => ({
      voice: session.voices.findIndex((voice) => voice.id === voiceId),
      name,
      taken: read.get(id)!,
      part,
      isBrokenOff: false,
      mark,
      notes: read.get(id)!.notes,
    }),
  );
  const placements = session.takes.map(({ placement }) => ({ placement, found: placement! }));
  const against = { score: score ?? file?.score, plan: score === undefined ? file?.plan : undefined };
  const judged = await judgeAttempts(attempts, placements, cache, pool, {
    plan: session.guide?.plan,
    ...options,
    played: options.played ? against : undefined,
  });
  return session.voices.map((_, index) => judged[index] ?? { takes: [], best: null });
}

function chosen(draft: Draft, name: string, judged: readonly JudgedVoice[]): string[] {
  const { session } = draft;
  const isCalled = session.takes.some((take) => take.name.toLowerCase() === name.trim().toLowerCase());
  if (name.trim().toLowerCase() !== 'proposed' || isCalled) return [chooseTake(draft, takeNamed(session, name))];
  const proposals = judged.flatMap(({ best }) => (best === null ? [] : [best]));
  if (proposals.length === 0) {
    const message = 'No voice has several takes that could be compared, so none is proposed.';
    throw new PartsongError('bad-option', message, 'Name a take with --choose TAKE.');
  }
  return proposals.map(({ index, reason }) => chooseTake(draft, session.takes[index]!, reason));
}

function sheetOf(session: Session, judged: readonly JudgedVoice[]): TakesOfSession['voices'] {
  return session.voices.map((voice, index) => ({
    ...sheetVoice(voice.name, judged[index]!, [], session.guide?.plan ?? null),
    sounds: soundsOf(session, voice),
  }));
}

/** What a voice sounds with: a take, or passages with the times of their joins. */
function soundsOf(session: Session, voice: Session['voices'][number]): string | null {
  const main = soundingTake(session, voice);
  if (voice.passages === null || main === undefined) return main?.name ?? null;
  const names = new Map(heardTakes(session, voice).map(({ id, name }) => [id, name]));
  return voice.passages
    .map(({ takeId, fromSec }, n) => `${names.get(takeId) ?? takeId}${n === 0 ? '' : ` from ${time(fromSec)}`}`)
    .join(', ');
}
