import { randomBytes } from 'node:crypto';
import { link, open, readFile, rm, stat, writeFile } from 'node:fs/promises';
import { hostname, uptime } from 'node:os';
import { join } from 'node:path';
import { setTimeout as wait } from 'node:timers/promises';
import { z } from 'zod';
import { PartsongError } from '../../core/signal/fault.ts';
import { systemCode, targetFault } from '../media/whole-file.ts';
import { isRunning, machineId, startOf } from './process-life.ts';

/** The lock's name in the session's folder. */
export const LOCK_NAME = 'session.lock';
/** How the names of drafts begin, from which a lock is made in one step; a killed process may leave one. */
export const LOCK_DRAFT = `.${LOCK_NAME}-`;
/** How often a holder gives a sign of life, ms. */
const BEAT_MS = 20_000;
/** Without a sign of life for longer, a lock of another computer is taken for left behind: 15 beats, ms. */
export const STALE_MS = 300_000;
/** A lock that cannot be read, or a takeover, is given this long to be finished by whoever is at it, ms. */
const UNFINISHED_MS = 10_000;
/** A computer that was started since the lock's last sign of life has missed at least this many beats by now, ms. */
const FEWEST_BEATS_MS = 3 * BEAT_MS;

/** What a command that works on a session calls itself. */
export const COMMAND_LINE = 'a command line';
/** What a session on the screen is held by. */
const SCREENS = new Set(['the window', 'the browser']);

/** Others may come first again and again, but not for ever; what then stands in the way is no lock. */
const MOST_TURNS = 100;

const lockSchema = z.object({
  format: z.literal('partsong-lock'),
  host: z.string().max(300),
  machine: z.string().max(64),
  pid: z.number().int().positive(),
  started: z.string().max(64).nullable(),
  since: z.string().max(40),
  by: z.string().max(100),
  token: z.string().min(1).max(64),
});
type Holder = z.infer<typeof lockSchema>;

type Verdict = { readonly kind: 'busy' } | { readonly kind: 'left'; readonly notice: string | null };

/**
 * The right to write one session. It is a small file in the session's folder that says who holds it; the file is made
 * in one step, so that of several who try at once one gets it. A lock whose process has died is taken over without a
 * word; one of another computer when it has given no sign of life for STALE_MS.
 */
export class SessionLock {
  /** Whose lock was taken over, a sentence for people; null when nobody need know. */
  readonly notice: string | null;
  readonly #path: string;
  readonly #text: string;
  readonly #token: string;
  readonly #beat: NodeJS.Timeout;

  private constructor(path: string, holder: Holder, notice: string | null) {
    this.#path = path;
    this.#text = textOf(holder);
    this.#token = holder.token;
    this.notice = notice;
    this.#beat = setInterval(() => void this.#giveSign().catch(() => undefined), BEAT_MS);
    this.#beat.unref();
  }

  /**
   * Takes the lock of a session's folder, which must be there. `by`: what holds it, for people ("the window"). Throws
   * PartsongError 'session-open' when somebody has it, 'target-unwritable' | 'target-full' when none can be made there.
   */
  static async take(folder: string, by = 'Partsong'): Promise<SessionLock> {
    const path = join(folder, LOCK_NAME);
    const holder = ownHolder(by);
    const draft = join(folder, `${LOCK_DRAFT}${holder.token}`);
    let notice: string | null = null;
    try {
      await writeFile(draft, textOf(holder), { flag: 'wx' });
      for (let turn = 0; turn < MOST_TURNS; turn++) {
        if (await make(path, draft, textOf(holder))) return new SessionLock(path, holder, notice);
        const found = await look(path, (await stat(draft)).mtimeMs);
        if (found === undefined) {
          await wait(20);
          continue;
        }
        if (found.verdict.kind === 'busy') throw openFault(folder, found.holder);
        notice = found.verdict.notice ?? notice;
        await removeLeft(path, found.holder, draft);
      }
      throw openFault(folder, undefined);
    } catch (error) {
      throw targetFault(error, folder);
    } finally {
      await rm(draft, { force: true });
    }
  }

  /**
   * Whether the lock is still ours; false when another has taken it over (this computer slept too long). A lock file
   * that was removed is made again. Errors of the disk pass.
   */
  async isOurs(): Promise<boolean> {
    const holder = await readHolder(this.#path);
    if (holder !== 'none') return holder !== 'unreadable' && holder.token === this.#token;
    try {
      await writeFile(this.#path, this.#text, { flag: 'wx' });
      return true;
    } catch (error) {
      if (systemCode(error) !== 'EEXIST') throw error;
      return false;
    }
  }

  /** Gives the lock back. */
  async release(): Promise<void> {
    clearInterval(this.#beat);
    const holder = await readHolder(this.#path).catch(() => 'none' as const);
    if (typeof holder === 'object' && holder.token === this.#token) await rm(this.#path, { force: true });
  }

  /** Writes the same text anew: the file's time of change then is the file server's, whose clock all can compare. */
  async #giveSign(): Promise<void> {
    const file = await open(this.#path, 'r+');
    try {
      // Read through the same handle, so that a lock that another has put there meanwhile is never written to.
      if ((await file.readFile('utf8')) === this.#text) await file.write(this.#text, 0);
    } finally {
      await file.close();
    }
  }
}

function ownHolder(by: string): Holder {
  return {
    format: 'partsong-lock',
    host: hostname(),
    machine: machineId(),
    pid: process.pid,
    started: startOf(process.pid),
    since: new Date().toISOString(),
    by,
    token: randomBytes(12).toString('hex'),
  };
}

function textOf(holder: Holder): string {
  return `${JSON.stringify(holder, undefined, 2)}\n`;
}

/** Makes the lock; false when there is one. A link brings the whole text in one step; some file systems have none. */
async function make(path: string, draft: string, text: string): Promise<boolean> {
  try {
    await link(draft, path);
    return true;
  } catch (error) {
    if (systemCode(error) === 'EEXIST') return false;
  }
  try {
    await writeFile(path, text, { flag: 'wx' });
    return true;
  } catch (error) {
    if (systemCode(error) === 'EEXIST') return false;
    throw error;
  }
}

/** Who holds the lock and whether they live. `nowMs`: the present by the clock of the folder's own file system. */
async function look(
  path: string,
  nowMs: number,
): Promise<{ holder: Holder | undefined; verdict: Verdict } | undefined> {
  for (let waitedMs = 0; ; waitedMs += 100) {
    const facts = await stat(path).catch(() => undefined);
    const holder = await readHolder(path);
    if (facts === undefined || holder === 'none') return undefined;
    if (holder !== 'unreadable') return { holder, verdict: judge(holder, nowMs - facts.mtimeMs) };
    if (nowMs - facts.mtimeMs > UNFINISHED_MS) {
      return { holder: undefined, verdict: { kind: 'left', notice: null } };
    }
    if (waitedMs >= 1000) return { holder: undefined, verdict: { kind: 'busy' } };
    await wait(100);
  }
}

function judge(holder: Holder, silentMs: number): Verdict {
  const left = (notice: string | null): Verdict => ({ kind: 'left', notice });
  const notice = `It was still marked as open on ${holder.host} (since ${timeOf(holder.since)}), which has given no sign of life for ${Math.round(silentMs / 60_000)} minutes; it was taken over.`;
  if (holder.machine === machineId()) {
    if (!isRunning(holder.pid)) return left(null);
    const started = startOf(holder.pid);
    if (started !== null && holder.started !== null) {
      return started === holder.started ? { kind: 'busy' } : left(null);
    }
    return silentMs > STALE_MS ? left(notice) : { kind: 'busy' };
  }
  const startedSince = silentMs > Math.max(uptime() * 1000, FEWEST_BEATS_MS);
  if (holder.host === hostname() && startedSince) return left(null);
  return silentMs > STALE_MS ? left(notice) : { kind: 'busy' };
}

/**
 * Removes a lock that was left behind. Only one at a time may, and looks again first: who judged the same lock a moment
 * earlier would else remove the lock of the one who has taken over since.
 */
async function removeLeft(path: string, left: Holder | undefined, draft: string): Promise<void> {
  const guard = `${path}.taking`;
  try {
    await writeFile(guard, '', { flag: 'wx' });
  } catch (error) {
    if (systemCode(error) !== 'EEXIST') throw error;
    const [older, own] = [await stat(guard).catch(() => undefined), await stat(draft)];
    if (older !== undefined && own.mtimeMs - older.mtimeMs > UNFINISHED_MS) await rm(guard, { force: true });
    await wait(50);
    return;
  }
  try {
    const holder = await readHolder(path);
    const same =
      left === undefined ? holder === 'unreadable' : typeof holder === 'object' && holder.token === left.token;
    if (same) await rm(path, { force: true });
  } finally {
    await rm(guard, { force: true });
  }
}

async function readHolder(path: string): Promise<Holder | 'none' | 'unreadable'> {
  let text: string;
  try {
    text = await readFile(path, 'utf8');
  } catch (error) {
    if (systemCode(error) === 'ENOENT') return 'none';
    throw error;
  }
  try {
    return lockSchema.parse(JSON.parse(text));
  } catch {
    return 'unreadable';
  }
}

function openFault(folder: string, holder: Holder | undefined): PartsongError {
  if (holder === undefined) {
    const message = `The session ${folder} is being opened by another Partsong at this moment.`;
    return new PartsongError('session-open', message, 'Try again in a few seconds.', folder);
  }
  const here = holder.machine === machineId();
  const since = timeOf(holder.since);
  if (here && holder.pid === process.pid) {
    const message = `The session ${folder} is open already in this Partsong, since ${since}.`;
    return new PartsongError('session-open', message, 'Go on where it is open, or close it there first.', folder);
  }
  const who = here
    ? `${placeOf(holder)} on this computer (process ${holder.pid})`
    : `${placeOf(holder)} on the computer ${holder.host} (process ${holder.pid} there)`;
  return new PartsongError(
    'session-open',
    `The session ${folder} is open already: ${who}, since ${since}.`,
    here
      ? holder.by === COMMAND_LINE
        ? 'Wait until that command is done, then try again.'
        : 'Do it there, or press "Close session" there, then try again.'
      : `Close it on ${holder.host} first. If that computer was switched off or has lost this folder, try again later: ${STALE_MS / 60_000} minutes after its last sign of life the session can be opened here.`,
    folder,
  );
}

/** Where a session is open on a screen, for people: "in the window"; undefined where it is not. */
export async function screenOf(folder: string): Promise<string | undefined> {
  const found = await look(join(folder, LOCK_NAME), Date.now()).catch(() => undefined);
  const holder = found?.verdict.kind === 'busy' ? found.holder : undefined;
  if (holder === undefined || !SCREENS.has(holder.by)) return undefined;
  return holder.machine === machineId() ? placeOf(holder) : `${placeOf(holder)} on the computer ${holder.host}`;
}

/** "in the browser", "by a command line" */
function placeOf({ by }: Holder): string {
  return SCREENS.has(by) ? `in ${by}` : `by ${by}`;
}

function timeOf(iso: string): string {
  const date = new Date(iso);
  if (Number.isNaN(date.getTime())) return iso;
  return date.toLocaleString('en-GB', { day: 'numeric', month: 'long', hour: '2-digit', minute: '2-digit' });
}
