import { describe, expect, it } from 'vitest';
import { findClapSounds, locateAttack } from '../../../core/lineup/clap.ts';
import { placeTakes } from '../../../core/lineup/lineup.ts';
import { listenTo } from '../../../core/lineup/take-listener.ts';
import { TICK_SEC } from '../../../core/lineup/trace.ts';
import { Random } from '../../../core/signal/random.ts';
import { soundOf } from '../../../core/signal/sound.ts';
import { addClap, addNoise, addNotes, inventGuide, RATE_HZ } from './invented-session.ts';

/** A chair: a thump of 90 Hz with a scrape. */
function addChair(to: Float32Array, atSec: number, random: Random): void {
  for (let n = 0; n < 0.3 * RATE_HZ; n++) {
    const t = n / RATE_HZ;
    const at = Math.round(atSec * RATE_HZ) + n;
    const scrape = random.gaussian() * 0.03 * Math.min(1, t / 0.08) * Math.exp(-t / 0.1);
    to[at]! += 0.5 * Math.sin(2 * Math.PI * 90 * t) * Math.exp(-t / 0.05) + scrape;
  }
}

/** A cough: noise through the voice, 200 ms with a slow rise. */
function addCough(to: Float32Array, atSec: number, random: Random): void {
  let low = 0;
  for (let n = 0; n < 0.35 * RATE_HZ; n++) {
    const t = n / RATE_HZ;
    low += 0.3 * (random.gaussian() - low);
    to[Math.round(atSec * RATE_HZ) + n]! += 0.5 * low * Math.min(1, t / 0.03) * Math.exp(-t / 0.12);
  }
}

/** A page: a rustle of half a second. */
function addPage(to: Float32Array, atSec: number, random: Random): void {
  for (let n = 0; n < 0.5 * RATE_HZ; n++) {
    const t = n / RATE_HZ;
    const rustle = 0.5 + 0.5 * Math.sin(2 * Math.PI * 17 * t);
    to[Math.round(atSec * RATE_HZ) + n]! += 0.06 * random.gaussian() * rustle * Math.sin((Math.PI * t) / 0.5);
  }
}

/** A key: a click of 1 ms and the ring of metal. */
function addKey(to: Float32Array, atSec: number): void {
  for (let n = 0; n < 0.03 * RATE_HZ; n++) {
    const t = n / RATE_HZ;
    to[Math.round(atSec * RATE_HZ) + n]! += 0.08 * Math.sin(2 * Math.PI * 3100 * t) * Math.exp(-t / 0.004);
  }
}

function medianOf(values: readonly number[]): number {
  return [...values].sort((a, b) => a - b)[values.length >> 1]!;
}

/** Where sounds rise, and by how much, as it was looked for before: the usual level is moved on tick by tick beside the search. */
function risesBefore(edge: Float32Array): { atSec: number; riseDb: number }[] {
  const [gap, reach] = [4, 125];
  const found: { atSec: number; riseDb: number }[] = [];
  let sum = 0;
  let next = 0;
  for (let i = gap + 4; i + 4 < edge.length; i++) {
    for (; next <= i; next++) {
      sum += next >= gap ? edge[next - gap]! : 0;
      sum -= next >= gap + reach ? edge[next - gap - reach]! : 0;
    }
    const before = Math.max(sum, 0) / Math.max(1, Math.min(reach, i - gap + 1)) + 1e-14;
    if ((edge[i]! + edge[i + 1]! + edge[i + 2]!) / 3 < 10 ** 0.5 * before) continue;
    let peakAt = i;
    for (let n = i; n < Math.min(edge.length, i + 12); n++) if (edge[n]! > edge[peakAt]!) peakAt = n;
    const loudest = edge.subarray(i, Math.min(edge.length, peakAt + 4)).reduce((most, one) => Math.max(most, one), 0);
    found.push({ atSec: i * TICK_SEC, riseDb: 10 * Math.log10(loudest / before) });
    let end = Math.min(edge.length, peakAt + 30);
    for (let n = end - 1; n >= peakAt + 3; n--) if (edge[n]! > 4 * edge[peakAt]!) end = n - 3;
    i = end;
  }
  return found;
}

describe('the clap detector', () => {
  it('finds the rises, to the last bit, that a search with the usual level beside it found (seeds 1 to 10)', () => {
    let all = 0;
    for (let seed = 1; seed <= 10; seed++) {
      const random = new Random(seed);
      const edge = Float32Array.from({ length: 8000 }, (_, n) => {
        const burst = random.uniform() < 0.01 ? 10 ** (4 * random.uniform()) : 1;
        return n > 3000 && n < 3400 ? 0 : 1e-6 * burst * random.gaussian() ** 2;
      });
      const found = findClapSounds({ lengthSec: 16, energy: edge.slice(), edge });
      const before = risesBefore(edge);
      all += found.length;
      expect(found.length).toBeLessThan(400);
      expect(
        found.map(({ atSec, riseDb }) => ({ atSec, riseDb })),
        `seed ${seed}`,
      ).toEqual(before);
    }
    expect(all).toBeGreaterThan(300);
    for (const length of [0, 5, 20])
      expect(
        findClapSounds({ lengthSec: 1, energy: new Float32Array(length), edge: new Float32Array(length) }),
      ).toEqual([]);
  });

  it('locates an attack within 0.5 ms (median) and 2 ms (worst) in a quiet room', () => {
    const errors: number[] = [];
    for (let seed = 1; seed <= 20; seed++) {
      const random = new Random(seed);
      const samples = new Float32Array(2 * RATE_HZ);
      addNoise(samples, 0.002, random);
      const truth = 0.8 + 0.4 * random.uniform();
      addClap(samples, truth, 0.3, random);
      const sound = soundOf(samples, RATE_HZ);
      const found = findClapSounds(listenTo(sound)).sort((a, b) => b.likeness - a.likeness)[0];
      errors.push(Math.abs(locateAttack(sound, found!.atSec) - truth) * 1000);
    }
    expect(medianOf(errors), `errors ${errors}`).toBeLessThan(0.5);
    expect(Math.max(...errors), `errors ${errors}`).toBeLessThan(2);
  });

  it('finds the most likely clap among a chair, a cough, a page and key noise', () => {
    for (let seed = 1; seed <= 10; seed++) {
      const random = new Random(seed);
      const samples = new Float32Array(9 * RATE_HZ);
      addNoise(samples, 0.003, random);
      addChair(samples, 1, random);
      addCough(samples, 2.5, random);
      addPage(samples, 4, random);
      addKey(samples, 5.2);
      addClap(samples, 6.5, 0.3, random);
      const sound = soundOf(samples, RATE_HZ);
      const found = findClapSounds(listenTo(sound)).sort((a, b) => b.likeness - a.likeness)[0];
      expect(Math.abs(locateAttack(sound, found!.atSec) - 6.5), `seed ${seed}`).toBeLessThan(0.001);
    }
  });

  it('finds the clap at 0 dB SNR within 1 ms (median) where the guide says to look', () => {
    const guide = inventGuide(5, 20);
    const errors: number[] = [];
    for (let seed = 1; seed <= 5; seed++) {
      const random = new Random(seed);
      const leadSec = 3.2;
      const samples = new Float32Array(34 * RATE_HZ);
      // Clap power over its first 50 ms equals the power of the noise.
      addNoise(samples, 0.1, random);
      addClap(samples, leadSec + guide.cueSec, 0.1 * Math.sqrt(0.05 / 0.0115), random);
      addChair(samples, 1, random);
      addCough(samples, 2.2, random);
      addNotes(samples, guide.notes, 0.3, { leadSec, driftPpm: 0 });
      const placement = placeTakes([{ id: 'take', sound: soundOf(samples, RATE_HZ) }], guide.sound).get('take')!;
      const clap = placement.evidence.find((one) => one.kind === 'clap');
      errors.push(Math.abs((clap?.takeSec ?? 0) - leadSec - guide.cueSec) * 1000);
    }
    expect(medianOf(errors), `errors ${errors} ms`).toBeLessThan(1);
    expect(Math.max(...errors), `errors ${errors} ms`).toBeLessThan(4);
  });
});
