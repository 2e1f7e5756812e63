import { mkdir, stat } from 'node:fs/promises';
import { basename, dirname, resolve } from 'node:path';
import { isDeepStrictEqual } from 'node:util';
import { beginHistory, type History } from '../../core/session/history.ts';
import { emptySession, formatSession, type Session } from '../../core/session/schema.ts';
import { PartsongError } from '../../core/signal/fault.ts';
import type { Kept } from './autosave.ts';
import type { ReadHistory } from './history-records.ts';
import { HISTORY_NAME, HistoryStore } from './history-store.ts';
import { SessionLock } from './lock.ts';
import { hashOf, SESSION_NAME, SessionStore, type StoredSession } from './session-store.ts';

/** A session that is held open, with all its steps. */
export interface OpenedSession {
  readonly kept: Kept;
  readonly history: History;
  /** What was mended, sentences for people; null when nothing was. */
  readonly recovered: string | null;
}

/** The folder of a session, where its session.json itself was named. */
export function sessionFolderOf(path: string): string {
  const full = resolve(path);
  return basename(full) === SESSION_NAME ? dirname(full) : full;
}

/**
 * Makes a session in a folder (made where it is missing) and holds it open. Throws PartsongError 'target-exists' when
 * there is a session already, 'session-open', 'target-unwritable' | 'target-full'.
 */
export async function beginSession(path: string, title: string, by?: string): Promise<OpenedSession> {
  const folder = sessionFolderOf(path);
  const sessions = new SessionStore(folder);
  const histories = new HistoryStore(folder);
  await mkdir(folder, { recursive: true }).catch((cause: unknown) => {
    const message = `The folder ${folder} cannot be made for the session.`;
    throw new PartsongError('target-unwritable', message, 'Choose another folder.', folder, { cause });
  });
  const lock = await SessionLock.take(folder, by);
  try {
    if ((await stat(sessions.path).catch(() => undefined)) !== undefined) {
      const message = `There is a session in ${folder} already.`;
      throw new PartsongError('target-exists', message, 'Open it, or choose another folder for the new one.', folder);
    }
    await histories.setAside();
    const session = emptySession(title.slice(0, 200));
    const text = formatSession(session);
    await sessions.write(text);
    const stored = { session, hash: hashOf(text) };
    return { kept: { sessions, histories, lock, by, stored }, history: beginHistory(session), recovered: null };
  } catch (error) {
    await lock.release();
    throw error;
  }
}

/**
 * Opens a session and holds it. After a crash the newest changes are taken from the history; a damaged file is mended
 * from the history, or from an older copy. Throws PartsongError 'file-missing' | 'file-unreadable' |
 * 'session-damaged' | 'session-newer' | 'session-open'.
 */
export async function openSession(path: string, by?: string): Promise<OpenedSession> {
  const folder = sessionFolderOf(path);
  const sessions = new SessionStore(folder);
  const histories = new HistoryStore(folder);
  const told: string[] = [];
  await refuseNone(sessions, histories);
  const lock = await lockOrRead(folder, by, told);
  try {
    await sessions.removePartials();
    const read = await histories.read();
    const { stored, history } = await settle(sessions, histories, read, told);
    const recovered = told.length === 0 ? null : told.join(' ');
    return { kept: { sessions, histories, lock, by, stored }, history, recovered };
  } catch (error) {
    await lock?.release();
    throw error;
  }
}

/** No lock is left in a folder that holds no session. */
async function refuseNone(sessions: SessionStore, histories: HistoryStore): Promise<void> {
  for (const path of [sessions.path, histories.path]) {
    if ((await stat(path).catch(() => undefined)) !== undefined) return;
  }
  if ((await sessions.readCopies()).length === 0) await sessions.read();
}

/** A session on a disk that can only be read is opened all the same; nobody else can write it either. */
async function lockOrRead(folder: string, by: string | undefined, told: string[]): Promise<SessionLock | undefined> {
  try {
    const lock = await SessionLock.take(folder, by);
    if (lock.notice !== null) told.push(lock.notice);
    return lock;
  } catch (error) {
    if (!(error instanceof PartsongError) || error.code === 'session-open') throw error;
    told.push(
      `Nothing can be saved in its folder now: ${error.message} Until that changes, what you do is kept only while it is open here.`,
    );
    return undefined;
  }
}

interface Settled {
  /** What lies in session.json; undefined when that is not what the history may go on from. */
  readonly stored: Kept['stored'];
  readonly history: History;
}

async function settle(
  sessions: SessionStore,
  histories: HistoryStore,
  read: Awaited<ReturnType<HistoryStore['read']>>,
  told: string[],
): Promise<Settled> {
  const whole = typeof read === 'string' ? undefined : read;
  const newest = await sessions.read().catch((fault: unknown) => fault);
  if (isStored(newest)) {
    const history = await joined(histories, newest, read, told);
    // The very object, so that a session that lies there already is not written again.
    const session = isSame(history.present, newest.session) ? history.present : newest.session;
    return { stored: { session, hash: newest.hash }, history };
  }
  // A newer Partsong's session, or one that may not be read, is nothing to mend.
  if (!(newest instanceof PartsongError) || !['session-damaged', 'file-missing'].includes(newest.code)) throw newest;
  const copies = await sessions.readCopies();
  const copyInHistory = copies.some((copy) => whole !== undefined && pointOf(whole, copy) !== undefined);
  const fromHistory = whole !== undefined && (whole.end !== 'damaged' || copyInHistory);
  if (!fromHistory && copies.length === 0) throw newest;
  const was = newest.code === 'file-missing' ? 'was missing' : 'was damaged';
  const damaged = await sessions.setAside('damaged').catch(() => undefined);
  const beside = damaged === undefined ? '' : ` The damaged file lies beside it as ${damaged}.`;
  if (fromHistory) {
    told.push(
      `Its ${SESSION_NAME} ${was}; it was made anew from the history of its changes, up to the last one.${beside}`,
    );
    histories.continueFrom(whole);
    return { stored: undefined, history: whole.history };
  }
  const copy = copies[0]!;
  told.push(`Its ${SESSION_NAME} ${was}; the older copy ${basename(copy.path)} was opened instead.${beside}`);
  const history = await joined(histories, copy, read, told);
  return { stored: undefined, history };
}

/** The history that leads to a stored session and beyond; else one that begins with it. */
async function joined(
  histories: HistoryStore,
  stored: StoredSession,
  read: ReadHistory | 'none' | 'damaged',
  told: string[],
): Promise<History> {
  if (read === 'none') return beginHistory(stored.session);
  const point = read === 'damaged' ? undefined : pointOf(read, stored);
  if (read === 'damaged' || point === undefined) {
    const why = read === 'damaged' || read.end === 'damaged' ? 'could not be read' : 'belongs to another state of it';
    const aside = await histories.setAside().catch(() => undefined);
    const where = aside === undefined ? '' : ` (${HISTORY_NAME} was set aside as ${aside})`;
    told.push(`The list of its earlier steps ${why}${where}, so undo begins anew from here.`);
    return beginHistory(stored.session);
  }
  if (!isSame(read.history.present, stored.session)) {
    const count = point.changesSince;
    const what = count === undefined || count > 1 ? `The last ${count ?? ''} changes` : 'The last change';
    told.push(
      `${what.replace('  ', ' ')} made before Partsong ended unexpectedly ${count === 1 ? 'was' : 'were'} kept.`,
    );
  }
  if (read.end === 'damaged') {
    const aside = await histories.setAside('damaged').catch(() => undefined);
    told.push(
      `Some steps after that could not be read${aside === undefined ? '' : ` and were set aside as ${aside}`}.`,
    );
    return read.history;
  }
  histories.continueFrom(read);
  return read.history;
}

/** Where in the history a stored session lies, proved by its content; undefined when it does not. */
function pointOf(read: ReadHistory, stored: StoredSession): { changesSince: number | undefined } | undefined {
  const mark = read.saved.get(stored.hash);
  if (mark !== undefined) return isSame(mark.session, stored.session) ? mark : undefined;
  if (read.follows !== stored.hash) return undefined;
  return { changesSince: undefined };
}

function isSame(one: Session, other: Session): boolean {
  return isDeepStrictEqual(one, other);
}

function isStored(value: unknown): value is StoredSession {
  return typeof value === 'object' && value !== null && 'session' in value;
}
