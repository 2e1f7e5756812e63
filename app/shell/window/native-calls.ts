import { realpathSync } from 'node:fs';
import { isAbsolute, relative, resolve, sep } from 'node:path';
import type { BrowserWindow, Dialog, Shell } from 'electron';
import type { DoorAnswer } from '../contract/bridge.ts';
import type { CallInput } from '../contract/calls.ts';
import type { DeskView } from '../contract/desk-view.ts';
import { doorFault } from '../door-fault.ts';
import type { OwnCalls } from './serve-calls.ts';

/** Endings of the clips that phones, recorders and cameras write. The dialog also offers all files. */
const CLIP_ENDINGS = 'm4a mov mp4 wav mp3 aac 3gp caf flac ogg opus aif aiff webm mkv'.split(' ');

export interface NativeParts {
  readonly dialog: Pick<Dialog, 'showOpenDialog'>;
  readonly shell: Pick<Shell, 'showItemInFolder'>;
  /** The window the dialogs belong to. */
  readonly window: () => BrowserWindow;
  readonly view: () => DeskView | null;
}

/** The calls that need the system's dialogs and file manager. */
export function nativeCalls({ dialog, shell, window, view }: NativeParts): OwnCalls {
  return {
    pickFiles: async ({ title, many }: CallInput<'pickFiles'>): Promise<DoorAnswer> => {
      const { canceled, filePaths } = await dialog.showOpenDialog(window(), {
        title,
        properties: many ? ['openFile', 'multiSelections'] : ['openFile'],
        filters: [
          { name: 'Clips', extensions: CLIP_ENDINGS },
          { name: 'All files', extensions: ['*'] },
        ],
      });
      return { ok: true, value: canceled || filePaths.length === 0 ? null : filePaths };
    },
    pickFolder: async ({ title }: CallInput<'pickFolder'>): Promise<DoorAnswer> => {
      const { canceled, filePaths } = await dialog.showOpenDialog(window(), {
        title,
        properties: ['openDirectory', 'createDirectory'],
      });
      return { ok: true, value: canceled ? null : (filePaths[0] ?? null) };
    },
    reveal: async ({ path }: CallInput<'reveal'>): Promise<DoorAnswer> => {
      if (!isOfSession(path, view())) return { ok: false, fault: foreign(path) };
      shell.showItemInFolder(resolve(path));
      return { ok: true, value: null };
    },
  };
}

/**
 * Whether a path is one of the session's own files: in its folder, in that of its newest render, or one of its clips.
 * Links are followed first, so that none leads out.
 */
export function isOfSession(path: string, view: DeskView | null): boolean {
  const real = realOf(path);
  if (view === null || real === undefined) return false;
  const folders = [view.folder, ...(view.render === null ? [] : [view.render.folder])].map(realOf);
  if (folders.some((folder) => folder !== undefined && isWithin(real, folder))) return true;
  const facts = view.guide === null ? Object.values(view.takes) : [...Object.values(view.takes), view.guide];
  return facts.some((take) => realOf(take.file) === real);
}

function realOf(path: string): string | undefined {
  try {
    return isAbsolute(path) ? realpathSync(path) : undefined;
  } catch {
    return undefined;
  }
}

function isWithin(path: string, folder: string): boolean {
  const way = relative(folder, path);
  return way !== '..' && !way.startsWith(`..${sep}`) && !isAbsolute(way);
}

function foreign(path: string) {
  return doorFault(
    'bad-option',
    `${path} is not there, or is no file of this session.`,
    'Render again if it was removed.',
    path,
  );
}
