import { execFileSync } from 'node:child_process';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import { WaveFileWriter } from '../../app/work/wave-file.ts';
import type { TakeMend } from '../../core/pitch/mend.ts';
import { planMend } from '../../core/pitch/mend-plan.ts';
import { MendedSound } from '../../core/pitch/mended-sound.ts';
import { medianOf } from '../../core/pitch/pitch-span.ts';
import { soundOf } from '../../core/signal/sound.ts';
import { inRoom, noisy, played, row } from '../core/pitch/pitch-kit.ts';

const RATE_HZ = 44100;
const folder = mkdtempSync(join(tmpdir(), 'partsong-mend-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

function mended(samples: Float32Array, mend: Partial<TakeMend>): Float32Array {
  const sound = soundOf(samples, RATE_HZ);
  const out = new Float32Array(samples.length);
  new MendedSound(sound, planMend(sound, { cents: 0, curve: [], nudges: [], ...mend })).read(0, out);
  return out;
}

/** Lines of numbers that one of Debian's aubio tools prints on a sound. */
function byAubio(tool: 'aubiopitch' | 'aubioonset', sound: Float32Array, options: readonly string[]): number[][] {
  const path = join(folder, 'sound.wav');
  const writer = new WaveFileWriter(path, { format: 'float32', channels: 1, rateHz: RATE_HZ });
  writer.write([sound]);
  writer.finish();
  const text = execFileSync(tool, ['-i', path, '-r', String(RATE_HZ), ...options]).toString();
  return text
    .trim()
    .split('\n')
    .map((line) => line.trim().split(/\s+/).map(Number));
}

const notes = row([60, 64, 67, 65, 62, 57], 0.7, 0.15, () => 0);

describe('a mended take as aubio (Debian) hears it', () => {
  it.each(['bowed', 'blown', 'voice'] as const)(
    'a %s take moved by 35 and by -20 cents lies so much higher or lower, within 0.5 cents in the middle of its notes',
    (family) => {
      const sound = noisy(inRoom(played(notes, family, RATE_HZ), 0.4, 6, 11, RATE_HZ), 40, 12);
      // Of aubio's methods its YIN is the least far off (CV-6.4).
      const centsOf = (samples: Float32Array): number[] => {
        const frames = byAubio('aubiopitch', samples, ['-p', 'yin', '-B', '2048', '-H', '256']);
        return notes.map(({ fromSec, toSec }) => {
          const inside = frames.filter(([sec, hz]) => sec! > fromSec + 0.15 && sec! < toSec - 0.1 && hz! > 0);
          return medianOf(inside.map(([, hz]) => 1200 * Math.log2(hz! / 440)));
        });
      };
      const before = centsOf(sound);
      for (const cents of [35, -20]) {
        const moved = centsOf(mended(sound, { cents })).map((after, n) => after - before[n]!);
        console.log(`${family} by ${cents}: ${moved.map((one) => one.toFixed(2)).join(' ')}`);
        expect(Math.abs(medianOf(moved) - cents)).toBeLessThan(0.5);
        for (const one of moved) expect(Math.abs(one - cents)).toBeLessThan(1.5);
      }
    },
  );

  it('hears plucked notes of a stretch that was nudged by 30 ms so much later within 2 ms, and the others where they were', () => {
    const sound = noisy(played(notes, 'plucked', RATE_HZ), 50, 12);
    const onsetsOf = (samples: Float32Array): number[] =>
      byAubio('aubioonset', samples, ['-O', 'hfc', '-B', '512', '-H', '64', '-t', '0.5', '-M', '0.2']).map(
        ([sec]) => sec!,
      );
    const near = (onsets: readonly number[], sec: number): number =>
      onsets.reduce((best, one) => (Math.abs(one - sec) < Math.abs(best - sec) ? one : best), Number.POSITIVE_INFINITY);
    const before = onsetsOf(sound);
    const nudge = { fromSec: notes[2]!.fromSec - 0.03, toSec: notes[3]!.toSec, byMs: 30 };
    const after = onsetsOf(mended(sound, { nudges: [nudge] }));
    for (const [n, wishedMs] of [
      [0, 0],
      [2, 30],
      [3, 30],
      [5, 0],
    ] as const) {
      const from = near(before, notes[n]!.fromSec);
      const lateMs = 1000 * (near(after, from + wishedMs / 1000) - from);
      console.log(`note ${n}: ${lateMs.toFixed(2)} ms`);
      // aubio tells onsets to its hop of 1.5 ms.
      expect(Math.abs(lateMs - wishedMs)).toBeLessThan(2);
    }
  });
});
