import { statSync } from 'node:fs';
import { setTimeout as pause } from 'node:timers/promises';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { bundled, startScript } from '../desk/child-script.ts';
import { makeFolder } from './clip-kit.ts';

const folder = makeFolder();
let script: string;
beforeAll(async () => {
  script = await bundled('../media/long-run.ts', folder.path);
});
afterAll(() => folder.remove());

const sizeOf = (file: string): number => statSync(file, { throwIfNoEntry: false })?.size ?? 0;

/** Waits until FFmpeg has written so much. */
async function growing(file: string, bytes: number): Promise<void> {
  await expect.poll(() => sizeOf(file), { timeout: 15_000, interval: 50 }).toBeGreaterThan(bytes);
}

/** Whether the file stops growing: in 1.5 s of its own time FFmpeg would write 144 kB. */
async function stops(file: string): Promise<boolean> {
  for (let look = 0; look < 10; look++) {
    const before = sizeOf(file);
    await pause(1500);
    if (sizeOf(file) === before) return true;
  }
  return false;
}

test('FFmpeg ends within 5 s when the process that started it is killed, though it never writes to it', async () => {
  const file = `${folder.path}/killed.raw`;
  const { child, ended } = startScript(script, [file]);
  // Half a second: in the moment in which FFmpeg is started, nobody knows of it yet who could end it.
  await growing(file, 48_000);
  child.kill('SIGKILL');
  await ended;
  const atKill = sizeOf(file);
  expect(await stops(file)).toBe(true);
  expect((sizeOf(file) - atKill) / 96_000).toBeLessThan(5);
}, 40_000);

test('FFmpeg ends with the worker that started it where that is ended by force, while the process lives', async () => {
  const file = `${folder.path}/worker.raw`;
  const { child, ended } = startScript(script, [file, 'worker']);
  await growing(file, 0);
  expect(await stops(file)).toBe(true);
  expect(child.exitCode).toBeNull();
  child.kill('SIGKILL');
  await ended;
}, 40_000);
