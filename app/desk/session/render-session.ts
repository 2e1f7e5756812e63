import { existsSync } from 'node:fs';
import { stat } from 'node:fs/promises';
import { join, resolve } from 'node:path';
import { soundingTake } from '../../../core/session/passages.ts';
import type { Report } from '../../../core/session/report.ts';
import type { Session } from '../../../core/session/schema.ts';
import { PartsongError, throwIfCancelled } from '../../../core/signal/fault.ts';
import type { WrittenFormat } from '../../../core/wave/format.ts';
import type { EncodedFormat } from '../../media/encode.ts';
import type { Desk } from '../desk.ts';
import { rememberRender } from '../kept-render.ts';
import { planOf } from '../mix-plan.ts';
import { RenderFolder } from '../render-folder.ts';
import { renderFiles, renderMix, stemNamesOf } from '../render-mix.ts';
import { SESSION_NAME } from '../session-store.ts';
import { refuseSources } from '../source-guard.ts';
import type { TakenIn } from '../take-in.ts';
import { workFault } from '../work-fault.ts';
import type { Draft } from './draft.ts';
import { readTakes } from './read-takes.ts';
import { readyTakes, sessionParts, soundingTakes } from './ready-takes.ts';
import type { Running } from './session-work.ts';

/** Into what a session is rendered. */
export interface RenderChoice {
  readonly wave: WrittenFormat;
  readonly copy: EncodedFormat | null;
}

/** Takes of a draft that were read, and what else its report is to say. */
export interface BeforeRender {
  readonly read: ReadonlyMap<string, TakenIn>;
  readonly notes: readonly string[];
}

/**
 * Opens the folder of a render, before any work. takeNames: of what may be rendered; sources: clips that must not be written over.
 * Throws PartsongError as `RenderFolder.open` and `refuseSources` do.
 */
export async function openRender(
  target: string,
  takeNames: readonly string[],
  sources: readonly string[],
  { copy }: RenderChoice,
): Promise<RenderFolder> {
  const files = renderFiles(stemNamesOf(takeNames), copy);
  await refuseSources(
    files.map((name) => join(target, name)),
    sources,
  );
  return RenderFolder.open(target, files);
}

/**
 * Renders a draft into a folder that was opened for it: first `prepare` brings in what is to come in, then all takes that sound
 * are cleaned, mended and mixed as the draft has it. The folder gets all or nothing, and the draft is kept only with it; where
 * it throws, the folder is to be abandoned.
 */
export async function renderDraft(
  draft: Draft,
  folder: RenderFolder,
  choice: RenderChoice,
  prepare: () => Promise<BeforeRender>,
  running: Running,
): Promise<Report> {
  const { desk } = draft;
  try {
    const { read, notes } = await prepare();
    const { report, made, limiterMaxDb } = await rendered(draft, folder, choice, read, notes, running);
    throwIfCancelled(running.signal);
    await folder.keep();
    draft.keep();
    await rememberRender(desk.cache, desk.session, { folder: folder.target, files: made, report, limiterMaxDb });
    return report;
  } catch (error) {
    throw workFault(error, folder.target);
  }
}

async function rendered(
  draft: Draft,
  folder: RenderFolder,
  choice: RenderChoice,
  read: ReadonlyMap<string, TakenIn>,
  notes: readonly string[],
  running: Running,
): Promise<{ readonly report: Report; readonly made: readonly string[]; readonly limiterMaxDb: number }> {
  const { session, desk } = draft;
  const takes = soundingTakes(session);
  if (takes.length === 0) throw nothingToMix(session);
  const rest = takes.filter(({ id }) => !read.has(id));
  const all = new Map([...read, ...(rest.length === 0 ? [] : await readTakes(rest, desk, running))]);
  const ready = await readyTakes(session, takes, all, desk, running);
  const parts = await sessionParts(session, ready, desk, running);
  const made = renderFiles(stemNamesOf(parts.map(({ take }) => take.name)), choice.copy);
  await folder.refuse(made);
  const sources = takes.map(({ id }) => all.get(id)!.file).filter(existsSync);
  await refuseSources(
    made.map((name) => join(folder.target, name)),
    sources,
  );
  const silent = session.voices
    .filter((voice) => soundingTake(session, voice) === undefined)
    .map(({ name }) => `${name} is not in the mix: it has no take that is chosen.`);
  const plan = planOf(session, parts, { ...choice, stems: true }, [...notes, ...silent]);
  const { report, mix } = await renderMix(folder, plan, desk.pool, running);
  return { report, made, limiterMaxDb: mix.limiterMaxDb };
}

/** Names of the takes with which the voices of a session sound. */
export function soundingNames(session: Session): string[] {
  return session.voices.flatMap((voice) => soundingTake(session, voice)?.name ?? []);
}

function nothingToMix({ title }: Session): PartsongError {
  return new PartsongError(
    'bad-option',
    `The session ${title} has no voice with a take that is chosen, so there is nothing to mix.`,
    'Name clips behind the session, or choose takes with "partsong takes SESSION --choose TAKE".',
  );
}

/** Throws PartsongError 'target-exists' where the render of a session would take the place of another's. */
export async function refuseOtherSession(target: string, desk: Desk): Promise<void> {
  if (resolve(target) === desk.folder) return;
  if ((await stat(join(target, SESSION_NAME)).catch(() => undefined)) === undefined) return;
  throw new PartsongError(
    'target-exists',
    `${target} holds a session of its own, and its mix would be lost.`,
    'Name another folder with --out, or leave it out: the mix then goes into the folder of its session.',
    target,
  );
}
