import { spawn } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { makeBenchTake } from '../../bench/bench-take.ts';
import { builtCommand } from '../cli/command.ts';

const start = fileURLToPath(new URL('../../../app/cli/start.mjs', import.meta.url));
const folder = mkdtempSync(join(tmpdir(), 'partsong-pool-'));

beforeAll(() => builtCommand());
afterAll(() => rmSync(folder, { recursive: true, force: true }));

/** Peak memory of a mix of three takes of this length, MB, as Linux counts it while the process lives. */
async function peakOfMix(lengthSec: number): Promise<number> {
  const clips = [196, 262, 330].map((pitchHz) => {
    const path = join(folder, `${lengthSec} ${pitchHz}.wav`);
    makeBenchTake({ path, lengthSec, seed: pitchHz, pitchHz, startSec: 3 });
    return path;
  });
  const args = [start, 'mix', ...clips, '--out', join(folder, `out ${lengthSec}`), '--copy', 'none', '--json'];
  const child = spawn(process.execPath, args, { stdio: 'ignore' });
  let peakMb = 0;
  const watch = setInterval(() => {
    try {
      const text = readFileSync(`/proc/${child.pid}/status`, 'utf8');
      peakMb = Math.max(peakMb, Number(/VmHWM:\s+(\d+)/.exec(text)?.[1] ?? 0) / 1024);
    } catch {
      // It has ended.
    }
  }, 20);
  const code = await new Promise((resolve) => child.on('exit', resolve));
  clearInterval(watch);
  expect(code).toBe(0);
  return peakMb;
}

describe('the memory of a mix', () => {
  it('grows by less than 30 MB for takes eight times as long', async () => {
    const short = await peakOfMix(15);
    const long = await peakOfMix(120);
    // What is held grows by some 2 MB; when garbage is swept moves the peak by 15 MB either way. 120 s of three takes, held
    // in memory as floats at cleaning and placing, would be 69 MB each time.
    expect(long - short).toBeLessThan(30);
    expect(long).toBeLessThan(300);
  });
});
