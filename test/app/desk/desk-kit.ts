import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll } from 'vitest';
import { Desk, type DeskOptions } from '../../../app/desk/desk.ts';
import { WorkPool } from '../../../app/work/pool.ts';
import type { Take, Voice } from '../../../core/session/schema.ts';

const made: string[] = [];

/** A folder of its own, removed when the file's tests have ended. */
export function freshFolder(): string {
  const folder = mkdtempSync(join(tmpdir(), 'partsong-desk-'));
  made.push(folder);
  return folder;
}

/** Call once at the top of a test file. */
export function cleanFolders(): void {
  afterAll(() => {
    for (const folder of made) rmSync(folder, { recursive: true, force: true });
  });
}

export const aVoice = (id: string): Voice => ({
  id,
  name: `Voice ${id}`,
  role: 'inner',
  colour: 1,
  trimDb: 0,
  placeDeg: null,
  muted: false,
  chosenTakeId: null,
  passages: null,
});

export const aTake = (id: string, voiceId: string): Take => ({
  id,
  name: `Take ${id}`,
  voiceId,
  clip: { path: `clips/${id}.m4a`, sizeBytes: 1000, fingerprint: 'a'.repeat(64) },
  silence: null,
  clean: { on: true, character: 'even', rule: 'lsa', fine: null },
  mark: 'none',
  remark: '',
  part: null,
  mend: null,
  placement: null,
});

/** Without worker threads: these tests do no work. */
const options = (): DeskOptions => ({ pool: new WorkPool(0), by: 'the test' });

export const beginDesk = (folder: string): Promise<Desk> => Desk.begin(folder, 'Evening canon', options());
export const openDesk = (folder: string): Promise<Desk> => Desk.open(folder, options());
