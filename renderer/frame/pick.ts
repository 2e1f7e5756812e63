import { ask, theBridge } from '../desk/desk-store.ts';
import { type BringTo, bringIn, bringPaths, pathsOf } from './bring-in.ts';
import { isClipName } from './dropped-files.ts';

const CLIPS = 'audio/*,video/*,.wav,.flac,.m4a,.mp4,.mov,.mkv,.caf,.aiff';

/** Lets the user choose clips, with the window's own dialog or the browser's, and takes them in. */
export async function chooseClips(to: BringTo): Promise<void> {
  if (theBridge().door === 'browser') return bringIn(await chosenInPage(to.kind !== 'guide', false), to);
  const many = to.kind !== 'guide';
  const paths = await ask((bridge) => bridge.calls.pickFiles({ title: titleOf(to), many }));
  await bringPaths(paths ?? [], to);
}

function titleOf(to: BringTo): string {
  return {
    newVoices: 'Add clips',
    voice: 'Add clips',
    guide: 'Choose the guide',
    score: 'Choose a score',
    trial: 'Choose a trial clip',
  }[to.kind];
}

/** Lets the user choose a folder of clips and takes in all that is in it. */
export async function chooseClipFolder(to: BringTo): Promise<void> {
  if (theBridge().door === 'browser') {
    const files = (await chosenInPage(true, true)).filter((file) => isClipName(file.name));
    return bringIn(files, to, files[0]?.webkitRelativePath.split('/')[0] ?? null);
  }
  const path = await ask((bridge) => bridge.calls.pickFolder({ title: 'Add a folder of clips' }));
  if (path === undefined || path === null) return;
  // Folders are parted by either sign, and a disk's own path has no name behind its last.
  await bringPaths([path], to, path.split(/[\\/]/).at(-1) ?? null);
}

/** Lets the user choose one file and gives its path; null when none was chosen. */
export async function chooseFile(title: string): Promise<string | null> {
  if (theBridge().door === 'browser') {
    const files = await chosenInPage(false, false);
    return files.length === 0 ? null : ((await pathsOf(files))?.[0] ?? null);
  }
  return (await ask((bridge) => bridge.calls.pickFiles({ title, many: false })))?.[0] ?? null;
}

/** Lets the user choose a score, MIDI or MusicXML, as the piece of the guide. */
export async function chooseScore(): Promise<void> {
  if (theBridge().door === 'browser') {
    return bringIn(await chosenInPage(false, false, '.mid,.midi,.musicxml,.mxl,.xml'), { kind: 'score' });
  }
  const paths = await ask((bridge) => bridge.calls.pickFiles({ title: 'Choose a score', many: false }));
  await bringPaths(paths ?? [], { kind: 'score' });
}

/** Elements whose dialogs are open: they are in no document, so nothing else need hold them. */
const asking = new Set<HTMLInputElement>();

/** The page's own dialog for files or a folder; none when it was left. */
function chosenInPage(many: boolean, isFolder: boolean, accept = CLIPS): Promise<File[]> {
  return new Promise((chosen) => {
    const input = document.createElement('input');
    input.type = 'file';
    input.multiple = many;
    if (isFolder) input.webkitdirectory = true;
    else input.accept = accept;
    const end = (files: readonly File[]): void => {
      asking.delete(input);
      chosen([...files]);
    };
    input.addEventListener('change', () => end([...(input.files ?? [])]));
    input.addEventListener('cancel', () => end([]));
    asking.add(input);
    input.click();
  });
}
