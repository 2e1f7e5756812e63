import { mkdir, readFile, writeFile } from 'node:fs/promises';
import { homedir } from 'node:os';
import { join, resolve } from 'node:path';
import { z } from 'zod';
import { parseSession, type Session } from '../../core/session/schema.ts';
import { writeWhole } from '../media/whole-file.ts';
import type { RecentView } from '../shell/contract/desk-view.ts';
import { SESSION_NAME } from './session-store.ts';

const FILE_NAME = 'recent-sessions.json';
/** How many sessions are remembered. */
const MOST = 20;

const recentSchema = z.object({
  folder: z.string().min(1).max(4096),
  title: z.string().max(200),
  voices: z.number().int().nonnegative(),
  openedAt: z.string().max(40),
});
type Recent = z.infer<typeof recentSchema>;

/**
 * Where Partsong keeps what belongs to the user and to no session: `partsong` in XDG_CONFIG_HOME (XDG Base Directory
 * Specification: ~/.config where unset or relative), in ~/Library/Application Support, or in APPDATA.
 */
export function userConfigFolder(
  env: Readonly<Record<string, string | undefined>> = process.env,
  platform: NodeJS.Platform = process.platform,
  home: string = homedir(),
): string {
  if (platform === 'win32') return join(env['APPDATA'] || join(home, 'AppData', 'Roaming'), 'Partsong');
  if (platform === 'darwin') return join(home, 'Library', 'Application Support', 'Partsong');
  const config = env['XDG_CONFIG_HOME'];
  return join(config?.startsWith('/') ? config : join(home, '.config'), 'partsong');
}

/**
 * The sessions opened last, newest first. A convenience and no document: what cannot be read counts as empty, what
 * cannot be written is left, and neither is a fault.
 */
export class Recents {
  readonly #path: string;
  /** One change at a time, so that none is lost. */
  #last: Promise<void> = Promise.resolve();

  /** `configFolder` is made when something is to be remembered. */
  constructor(configFolder: string = userConfigFolder()) {
    this.#path = join(configFolder, FILE_NAME);
  }

  /** At most 20, newest first; `isMissing` where there is no session any more. Never rejects. */
  async list(): Promise<RecentView[]> {
    await this.#last;
    return Promise.all((await this.#read()).map(asItIs));
  }

  /** Puts a session first; once when it is opened, and again when it is closed, since its title may have changed. */
  remember(opened: { readonly folder: string; readonly session: Session }): Promise<void> {
    const recent: Recent = {
      folder: resolve(opened.folder),
      title: opened.session.title,
      voices: opened.session.voices.length,
      openedAt: new Date().toISOString(),
    };
    return this.#change((recents) => [recent, ...recents.filter(({ folder }) => folder !== recent.folder)]);
  }

  /** Takes a session off the list; the session itself is not touched. */
  forget(folder: string): Promise<void> {
    const gone = new Set([folder, resolve(folder)]);
    return this.#change((recents) => recents.filter((recent) => !gone.has(recent.folder)));
  }

  #change(change: (recents: Recent[]) => Recent[]): Promise<void> {
    this.#last = this.#last.then(async () => {
      const text = `${JSON.stringify(change(await this.#read()).slice(0, MOST), undefined, 2)}\n`;
      try {
        await mkdir(join(this.#path, '..'), { recursive: true });
        await writeWhole(this.#path, (partial) => writeFile(partial, text));
      } catch {
        // A list of conveniences is not worth a word to somebody who is at work.
      }
    });
    return this.#last;
  }

  /** Entries that make no sense are passed over, one by one. */
  async #read(): Promise<Recent[]> {
    let found: unknown;
    try {
      found = JSON.parse(await readFile(this.#path, 'utf8'));
    } catch {
      return [];
    }
    if (!Array.isArray(found)) return [];
    return found.flatMap((one) => {
      const recent = recentSchema.safeParse(one);
      return recent.success ? [recent.data] : [];
    });
  }
}

/** A remembered session with the title and the voices it has now: it may have been changed, and never closed. */
async function asItIs(recent: Recent): Promise<RecentView> {
  let text: string;
  try {
    text = await readFile(join(recent.folder, SESSION_NAME), 'utf8');
  } catch {
    return { ...recent, isMissing: true };
  }
  try {
    const { title, voices } = parseSession(text, recent.folder);
    return { ...recent, title, voices: voices.length, isMissing: false };
  } catch {
    // Damaged or of a newer Partsong: opening it will say so.
    return { ...recent, isMissing: false };
  }
}
