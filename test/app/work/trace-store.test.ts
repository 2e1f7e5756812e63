import { mkdtempSync, readdirSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import { storedTrace, TraceWriter } from '../../../app/work/trace-store.ts';
import { TakeListener } from '../../../core/lineup/take-listener.ts';
import { Random } from '../../../core/signal/random.ts';

const RATE_HZ = 16000;
const folder = mkdtempSync(join(tmpdir(), 'partsong-trace-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

/** Notes that begin every 0.3 s over some noise, so that there are rises and levels of more than one piece. */
function take(lengthSec: number, seed: number): Float32Array {
  const random = new Random(seed);
  return Float32Array.from({ length: lengthSec * RATE_HZ }, (_, n) => {
    const note = Math.floor(n / (0.3 * RATE_HZ));
    const inNote = n - note * 0.3 * RATE_HZ;
    const hz = 150 + 60 * (note % 7);
    const tone = 0.2 * Math.exp(-inNote / 3000) * Math.sin((2 * Math.PI * hz * n) / RATE_HZ);
    return tone + 0.001 * random.gaussian();
  });
}

describe('a trace in files', () => {
  it('is what the listener keeps in memory, to the bit, and leaves nothing else behind', () => {
    const sounds = [take(12, 5), take(9, 6)];
    const kept = sounds.map((sound, index) => {
      const path = join(folder, `${index}.trace`);
      const writer = new TraceWriter(path, RATE_HZ);
      const inMemory = new TakeListener(RATE_HZ);
      for (let from = 0; from < sound.length; from += 5000) {
        const block = [sound.subarray(from, from + 5000)];
        writer.listener.add(block);
        inMemory.add(block);
      }
      const stored = writer.finish();
      writer.close();
      return { source: storedTrace(path, stored), trace: inMemory.result() };
    });
    for (const { source, trace } of kept) {
      const { energy, edge, ...rises } = trace;
      expect(rises.riseLine.length).toBeGreaterThan(100);
      expect(source.rises()).toEqual(rises);
      expect(source.levels()).toEqual({ lengthSec: trace.lengthSec, energy, edge });
    }
    expect(readdirSync(folder).sort()).toEqual(['0.trace', '0.trace.levels', '1.trace', '1.trace.levels']);
  });

  it('leaves nothing behind where the reading was stopped', () => {
    const writer = new TraceWriter(join(folder, 'stopped.trace'), RATE_HZ);
    writer.listener.add([take(1, 7)]);
    writer.close();
    expect(readdirSync(folder).filter((name) => name.startsWith('stopped'))).toEqual([]);
  });
});
