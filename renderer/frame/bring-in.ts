import { create } from 'zustand';
import { faultOf } from '../bridge/bridge-fault.ts';
import { ask, tell, theBridge, useDesk } from '../desk/desk-store.ts';
import { takeScore } from '../steps/guide/guide-draft.ts';
import { askAboutTakes } from '../steps/takes/arrival.ts';
import { titleFor } from './dropped-files.ts';
import { isOpening, openBy, openingEnded } from './opening.ts';

/** So long an edit may be behind the answer to its call, ms; a busy computer needs seconds, and without it nobody is asked. */
const ARRIVAL_MS = 30_000;

/** Files on their way to the desk. */
interface Bringing {
  /** What is done with them; empty when there are none. */
  readonly title: string;
  /** How many of their bytes are there; null while the desk looks at them. */
  readonly fraction: number | null;
}

const NOTHING: Bringing = { title: '', fraction: null };

export const useBringing = create<Bringing>(() => NOTHING);

/** Where files go that are brought: to a voice as more takes, one voice a clip, to the guide as its sound or score, or to the sound check. */
export type BringTo =
  | { readonly kind: 'newVoices' }
  | { readonly kind: 'voice'; readonly voiceId: string }
  | { readonly kind: 'guide' }
  | { readonly kind: 'score' }
  | { readonly kind: 'trial' };

/** Takes files that were dropped or chosen into the session; with none open, into a new one named after them. */
export async function bringIn(files: readonly File[], to: BringTo, folderName: string | null = null): Promise<void> {
  if (files.length === 0) return;
  const title = titleFor(
    folderName,
    files.map(({ name }) => name),
  );
  if (!(await haveSession(title))) return;
  const paths = await pathsOf(files);
  if (paths !== undefined) await bringPaths(paths, to);
}

/** Takes files or folders by their paths into the open session; with none open, into a new one named after them. */
export async function bringPaths(
  paths: readonly string[],
  to: BringTo,
  folderName: string | null = null,
): Promise<void> {
  // Where a folder is brought its path is the only one: it is no clip.
  const title = titleFor(folderName, folderName === null ? paths : []);
  if (paths.length === 0 || !(await haveSession(title))) return;
  if (to.kind === 'guide') {
    await ask((bridge) => bridge.calls.setGuide({ file: paths[0]! }));
    return;
  }
  if (to.kind === 'score') {
    await takeScore(paths[0]!);
    return;
  }
  if (to.kind === 'trial') {
    for (const file of paths) await ask((bridge) => bridge.calls.checkClip({ file }));
    return;
  }
  const voiceId = to.kind === 'voice' ? to.voiceId : null;
  const before = new Set(useDesk.getState().view?.session.takes.map(({ id }) => id));
  // Long clips are looked at from end to end before they are in the session; without a word that would seem to be nothing.
  useBringing.setState({ title: `Looking at ${counted(paths.length)}`, fraction: null });
  const answer = await ask((bridge) => bridge.calls.addClips({ files: [...paths], voiceId }));
  useBringing.setState(NOTHING);
  if (voiceId === null && answer !== undefined && answer.added > 1) {
    // The edit that brings them may come after the answer.
    const stop = AbortSignal.timeout(ARRIVAL_MS);
    while (!stop.aborted && !haveArrived(before, answer.added)) await new Promise((done) => setTimeout(done, 20));
  }
  for (const fault of answer?.refused ?? []) tell(fault);
}

/** Notes which takes came in, once all are there. */
function haveArrived(before: ReadonlySet<string>, count: number): boolean {
  const { view } = useDesk.getState();
  const takes = view?.session.takes ?? [];
  const takeIds = takes.flatMap(({ id }) => (before.has(id) ? [] : [id]));
  if (takeIds.length < count) return false;
  askAboutTakes(view?.folder ?? '', takeIds, false);
  return true;
}

/** Whether a session is open that files can go to: the one there is, or is just being opened, or else a new one of this title. */
async function haveSession(title: string): Promise<boolean> {
  while (isOpening()) await openingEnded();
  return useDesk.getState().view !== null || beginSession(title);
}

/** Begins a new session in the usual place; whether it is open now. */
export function beginSession(title: string): Promise<boolean> {
  return openBy('A new session begins …', (bridge) => bridge.calls.newSession({ title, folder: null }));
}

/** Paths for files of the page, telling how far they are on their way; undefined when it failed (and was told). */
export async function pathsOf(files: readonly File[]): Promise<string[] | undefined> {
  const title = `Bringing in ${files.length === 1 ? files[0]!.name : counted(files.length)}`;
  useBringing.setState({ title, fraction: 0 });
  try {
    return await theBridge().pathsOf(files, (fraction) => useBringing.setState({ fraction }));
  } catch (error) {
    tell(faultOf(error));
    return undefined;
  } finally {
    useBringing.setState(NOTHING);
  }
}

function counted(files: number): string {
  return files === 1 ? 'one clip' : `${files} clips`;
}
