import { EventEmitter } from 'node:events';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import type { FaultView } from '../../../app/shell/contract/desk-view.ts';
import { keepTroubleIn, noteTrouble, type TroubledProcess, watchForTrouble } from '../../../app/shell/trouble.ts';

let folder: string;
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'trouble-'));
  vi.spyOn(process.stderr, 'write').mockReturnValue(true);
});
afterEach(() => {
  vi.restoreAllMocks();
  rmSync(folder, { recursive: true, force: true });
});

function standInProcess() {
  return Object.assign(new EventEmitter(), { stdout: new EventEmitter(), stderr: new EventEmitter() });
}

describe('errors that nobody expected', () => {
  it('go to the error output and into trouble.log of the config folder, with where they came from', () => {
    const file = keepTroubleIn(join(folder, 'not-there-yet'));
    noteTrouble('a call failed', new Error('seven'));
    expect(readFileSync(file, 'utf8')).toMatch(/^\d{4}-\d\d-\d\dT.* a call failed: Error: seven\n {4}at /);
    expect(String(vi.mocked(process.stderr.write).mock.calls[0]![0])).toContain('Error: seven');
  });

  it('put the file aside when it has grown beyond 256 KiB', () => {
    const file = keepTroubleIn(folder);
    writeFileSync(file, 'x'.repeat(300 * 1024));
    noteTrouble('a call failed', 'eight');
    expect(readFileSync(file, 'utf8').length).toBeLessThan(200);
    expect(readFileSync(`${file}.1`, 'utf8').length).toBe(300 * 1024);
  });

  it('are no trouble of their own where the folder cannot be written', () => {
    writeFileSync(join(folder, 'a-file'), '');
    keepTroubleIn(join(folder, 'a-file'));
    expect(() => noteTrouble('a call failed', new Error('nine'))).not.toThrow();
  });

  it('are told to the pages when a promise failed unseen, and end the desk when uncaught', () => {
    const file = keepTroubleIn(folder);
    const program = standInProcess();
    const told: FaultView[] = [];
    let ends = 0;
    const end = (): void => {
      ends++;
    };
    watchForTrouble(program as unknown as TroubledProcess, { tell: (fault) => told.push(fault), end });
    program.emit('unhandledRejection', new Error('ten'));
    expect(told.map((fault) => [fault.code, fault.file])).toEqual([['unexpected', file]]);
    expect(ends).toBe(0);
    program.emit('uncaughtException', new Error('eleven'));
    expect(ends).toBe(1);
    expect(readFileSync(file, 'utf8')).toMatch(/ten[\s\S]*eleven/);
    // A closed terminal.
    expect(() => program.stdout.emit('error', new Error('EPIPE'))).not.toThrow();
  });
});
