import { z } from 'zod';
import { apply, type Edit } from '../../core/session/edit.ts';
import { editSchema } from '../../core/session/edit-schema.ts';
import type { History, Step } from '../../core/session/history.ts';
import { parseSession, type Session } from '../../core/session/schema.ts';
import { editsBetween } from './edits-between.ts';

/**
 * The history on the disk: one JSON record a line. The first holds the session it begins with; then follow what was
 * done, undone and done again, in order, and marks that say at which point a session.json was written.
 */
const HISTORY_VERSION = 1;

const hashSchema = z.string().regex(/^[0-9a-f]{64}$/);
const headSchema = z.object({
  format: z.literal('partsong-history'),
  version: z.literal(HISTORY_VERSION),
  base: z.unknown(),
  /** SHA-256 of the session.json that lay there when this file was begun: its end is as new as that, or newer. */
  follows: hashSchema.nullable(),
});
const recordSchema = z.union([
  z.strictObject({
    do: z.unknown(),
    key: z.string().max(100).optional(),
    /** Never one step with the edit before it. */
    apart: z.literal(true).optional(),
    /** The session after the step, where its edit alone does not lead there. */
    to: z.unknown().optional(),
  }),
  /** What was found by itself: it changes the session, but is no step. */
  z.strictObject({ amend: z.unknown() }),
  z.strictObject({ undo: z.number().int().positive() }),
  z.strictObject({ redo: z.number().int().positive() }),
  z.strictObject({ saved: hashSchema }),
]);

/** A point of the history at which session.json was written. */
export interface SavedPoint {
  readonly session: Session;
  /** Changes since. */
  readonly changesSince: number;
}

/** A history as far as its file could be read. */
export interface ReadHistory {
  readonly history: History;
  readonly follows: string | null;
  /** By the hash of session.json's text. */
  readonly saved: ReadonlyMap<string, SavedPoint>;
  readonly records: number;
  /** Bytes of the file up to the last good line. */
  readonly goodBytes: number;
  /** 'unfinished': the last line was cut off while it was written; 'damaged': a line makes no sense. */
  readonly end: 'whole' | 'unfinished' | 'damaged';
}

export function headLine(base: Session, follows: string | null): string {
  return line({ format: 'partsong-history', version: HISTORY_VERSION, base, follows });
}

export function doLine(edit: Edit, mergeKey: string | undefined, apart: boolean): string {
  return line({ do: edit, key: mergeKey, ...(apart ? { apart } : {}) });
}

export function amendLine(edit: Edit): string {
  return line({ amend: edit });
}

export function moveLine(direction: 'undo' | 'redo', steps = 1): string {
  return line({ [direction]: steps });
}

export function savedLine(hash: string): string {
  return line({ saved: hash });
}

/**
 * The lines of a new file with every step of a history, done and undone, and what was found between them. `isSame`
 * compares by content; a step whose last edit alone does not lead to its end carries the session where edits cannot.
 */
export function wholeLines(
  history: History,
  follows: string | null,
  isSame: (one: unknown, other: unknown) => boolean,
): string[] {
  const { past, present, future } = history;
  const lines = [headLine(past[0]?.session ?? present, follows)];
  const add = (step: Step, before: Session, after: Session): void => {
    const between = editsAfter(before, step.edit, after, isSame);
    const to = between === undefined ? after : undefined;
    lines.push(line({ do: step.edit, key: step.mergeKey, apart: true, to }));
    lines.push(...(between ?? []).map(amendLine));
  };
  past.forEach((step, index) => {
    add(step, step.session, past[index + 1]?.session ?? present);
  });
  let before = present;
  for (const step of future.toReversed()) {
    add(step, before, step.session);
    before = step.session;
  }
  if (future.length > 0) lines.push(moveLine('undo', future.length));
  return lines;
}

/** Reads the bytes of a history file; undefined when its first line is none of ours. */
export function readHistory(bytes: Buffer, file: string): ReadHistory | undefined {
  const firstEnd = bytes.indexOf(10);
  const head = firstEnd < 0 ? undefined : headOf(bytes.toString('utf8', 0, firstEnd), file);
  if (head === undefined) return undefined;
  const replay = new Replay(head.base);
  const marks = new Map<string, { session: Session; changes: number }>();
  let at = firstEnd + 1;
  let records = 0;
  let end: ReadHistory['end'] = 'whole';
  while (at < bytes.length) {
    const lineEnd = bytes.indexOf(10, at);
    if (lineEnd < 0) {
      end = 'unfinished';
      break;
    }
    const mark = replay.take(bytes.toString('utf8', at, lineEnd), file);
    if (mark === 'bad') {
      end = lineEnd + 1 < bytes.length ? 'damaged' : 'unfinished';
      break;
    }
    if (mark !== undefined) marks.set(mark, { session: replay.present, changes: replay.changes });
    records++;
    at = lineEnd + 1;
  }
  const saved = new Map<string, SavedPoint>();
  for (const [hash, { session, changes }] of marks) {
    saved.set(hash, { session, changesSince: replay.changes - changes });
  }
  return { history: replay.history, follows: head.follows, saved, records, goodBytes: at, end };
}

/** The moves of core/session/history.ts on lists that grow in place: a long history is read in a moment. */
class Replay {
  present: Session;
  changes = 0;
  readonly #past: Step[] = [];
  readonly #future: Step[] = [];

  constructor(base: Session) {
    this.present = base;
  }

  get history(): History {
    return { present: this.present, past: this.#past, future: this.#future };
  }

  /** Takes one line; gives the hash of a mark, or 'bad' for a line that makes no sense. */
  take(text: string, file: string): string | undefined {
    try {
      const record = recordSchema.parse(JSON.parse(text));
      if ('saved' in record) return record.saved;
      if ('undo' in record) this.#undo(record.undo);
      else if ('redo' in record) this.#redo(record.redo);
      else if ('amend' in record) this.present = apply(this.present, editSchema.parse(record.amend));
      else {
        const edit = editSchema.parse(record.do);
        const after = record.to === undefined ? apply(this.present, edit) : sessionOf(record.to, file);
        this.#do(edit, record.key, record.apart === true, after);
      }
      this.changes++;
      return undefined;
    } catch {
      return 'bad';
    }
  }

  #do(edit: Edit, mergeKey: string | undefined, apart: boolean, present: Session): void {
    if (present === this.present) return;
    const last = this.#past.at(-1);
    const merges =
      !apart && last !== undefined && mergeKey !== undefined && last.mergeKey === mergeKey && this.#future.length === 0;
    if (merges) this.#past[this.#past.length - 1] = { edit, mergeKey, session: last.session };
    else this.#past.push({ edit, mergeKey, session: this.present });
    this.#future.length = 0;
    this.present = present;
  }

  #undo(steps: number): void {
    if (steps > this.#past.length) throw new RangeError(`there are not ${steps} steps to undo`);
    for (let n = 0; n < steps; n++) {
      const step = this.#past.pop()!;
      this.#future.push({ ...step, session: this.present });
      this.present = step.session;
    }
  }

  #redo(steps: number): void {
    if (steps > this.#future.length) throw new RangeError(`there are not ${steps} steps to do again`);
    for (let n = 0; n < steps; n++) {
      const step = this.#future.pop()!;
      this.#past.push({ ...step, session: this.present });
      this.present = step.session;
    }
  }
}

/** What was found after a step, as edits; undefined where none lead to the session after it. */
function editsAfter(
  before: Session,
  edit: Edit,
  after: Session,
  isSame: (one: unknown, other: unknown) => boolean,
): Edit[] | undefined {
  try {
    return editsBetween(apply(before, edit), after, isSame);
  } catch {
    return undefined;
  }
}

function headOf(text: string, file: string): { base: Session; follows: string | null } | undefined {
  try {
    const { base, follows } = headSchema.parse(JSON.parse(text));
    return { base: sessionOf(base, file), follows };
  } catch {
    return undefined;
  }
}

function sessionOf(value: unknown, file: string): Session {
  return parseSession(JSON.stringify(value), file);
}

function line(record: unknown): string {
  return `${JSON.stringify(record)}\n`;
}
