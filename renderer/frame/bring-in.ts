import { create } from 'zustand';
import { faultOf } from '../bridge/bridge-fault.ts';
import { ask, tell, theBridge, useDesk } from '../desk/desk-store.ts';
import { takeScore } from '../steps/guide/guide-draft.ts';
import { titleFor } from './dropped-files.ts';
import { openBy } from './opening.ts';

/** Files on their way to the desk; `fraction` is null when there are none. */
interface Bringing {
  readonly title: string;
  readonly fraction: number | null;
}

export const useBringing = create<Bringing>(() => ({ title: '', fraction: null }));

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
  if (useDesk.getState().view === null && !(await beginSession(titleFor(folderName)))) return;
  const paths = await pathsOf(files);
  if (paths !== undefined) await bringPaths(paths, to);
}

/** Takes files or folders by their paths into the open session. */
export async function bringPaths(paths: readonly string[], to: BringTo): Promise<void> {
  if (paths.length === 0) return;
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
  const answer = await ask((bridge) => bridge.calls.addClips({ files: [...paths], voiceId }));
  for (const fault of answer?.refused ?? []) tell(fault);
}

/** Begins a new session in the usual place; whether it is open now. */
export function beginSession(title: string): Promise<boolean> {
  return openBy('A new session begins …', (bridge) => bridge.calls.newSession({ title, folder: null }));
}

/** Paths for files of the page, telling how far they are on their way; undefined when it failed (and was told). */
export async function pathsOf(files: readonly File[]): Promise<string[] | undefined> {
  const title = files.length === 1 ? `Bringing in ${files[0]!.name}` : `Bringing in ${files.length} clips`;
  useBringing.setState({ title, fraction: 0 });
  try {
    return await theBridge().pathsOf(files, (fraction) => useBringing.setState({ fraction }));
  } catch (error) {
    tell(faultOf(error));
    return undefined;
  } finally {
    useBringing.setState({ fraction: null });
  }
}
