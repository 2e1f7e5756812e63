import { describe, expect, it } from 'vitest';
import { LoudnessMeter } from '../../../core/loudness/loudness.ts';
import { MasterSearch, type MasterStep } from '../../../core/mix/master-search.ts';
import { Master, MasterPass } from '../../../core/mix/mixdown.ts';
import type { Block } from '../../../core/signal/block.ts';
import { Random } from '../../../core/signal/random.ts';
import { processorSuite, runInBlocks, snrDb } from '../../processor-suite.ts';

const rateHz = 48000;

/** Notes of a small ensemble over 8 s; `clap` adds a hit that stands that much above them. */
function ensemble(seed: number, clap: number, attack = 600): Block {
  const random = new Random(seed);
  const frames = 8 * rateHz;
  const left = new Float32Array(frames);
  const right = new Float32Array(frames);
  for (let note = 0; note < 60; note++) {
    const w = (2 * Math.PI * 110 * 2 ** (Math.floor(random.uniform() * 36) / 12)) / rateHz;
    const at = Math.floor(random.uniform() * (frames - 30_000));
    const side = random.uniform();
    for (let n = 0; n < 30_000; n++) {
      const envelope = Math.min(1, n / attack) * Math.exp(-n / 12_000);
      const value = 0.05 * envelope * (Math.sin(w * n) + 0.4 * Math.sin(2 * w * n) + 0.2 * Math.sin(3 * w * n));
      left[at + n]! += value * side;
      right[at + n]! += value * (1 - side);
    }
  }
  for (let n = 0; n < 2000; n++) {
    const hit = clap * Math.exp(-n / 200) * (random.uniform() - 0.5);
    left[4800 + n]! += hit;
    right[4800 + n]! += hit;
  }
  return [left, right];
}

function readingOf(block: Block): { integratedLufs: number; truePeakDbtp: number } {
  const meter = new LoudnessMeter({ rateHz, channels: 2 });
  meter.add(block);
  return meter.result();
}

function search(
  bus: Block,
  targetLufs: number,
  ceilingDbtp: number,
): { step: MasterStep & { kind: 'done' }; passes: number } {
  const master = new MasterSearch({ targetLufs, ceilingDbtp }, readingOf(bus));
  for (let passes = 1; ; passes++) {
    const pass = new MasterPass(master.next, rateHz);
    runInBlocks(pass, bus, 4096);
    const step = master.report(pass.result().loudness);
    if (step.kind === 'done') return { step, passes };
  }
}

describe('MasterSearch with MasterPass', () => {
  const cases: readonly (readonly [string, Block, number, number])[] = [
    ['a calm mix', ensemble(1, 0, 3000), -20, 1],
    ['a mix with a clap 15 dB above the music', ensemble(2, 4), -14, 3],
    ['a loud target', ensemble(3, 1), -11, 4],
  ];
  for (const [name, bus, target, most] of cases) {
    it(`${name}: is within 0.05 LU of ${target} LUFS and under -1 dBTP after at most ${most} passes`, () => {
      const { step, passes } = search(bus, target, -1);
      expect(Math.abs(step.reading.integratedLufs - target)).toBeLessThanOrEqual(0.05);
      expect(step.reading.truePeakDbtp).toBeLessThanOrEqual(-1);
      expect(step.notes).toEqual([]);
      expect(passes).toBeLessThanOrEqual(most);
      // An independent reading of what the chosen settings give; other blocks, so other sums in the meter's last bits.
      const again = readingOf(runInBlocks(new Master(step.chosen, rateHz), bus, 1000));
      expect(again.integratedLufs).toBeCloseTo(step.reading.integratedLufs, 6);
    });
  }

  it('keeps the ceiling and says so when the target would cost more than 6 LU', () => {
    const { step } = search(ensemble(4, 0, 30), -5, -12);
    expect(step.reading.truePeakDbtp).toBeLessThanOrEqual(-12);
    expect(step.lostLu).toBeGreaterThan(4);
    expect(step.lostLu).toBeLessThan(8);
    expect(step.notes.join(' ')).toContain('squashed');
  });

  it('leaves silence as it is and says so', () => {
    const { step } = search([new Float32Array(48_000), new Float32Array(48_000)], -14, -1);
    expect(step.chosen.gainDb).toBe(0);
    expect(step.notes[0]).toContain('silent');
  });

  it('lowers the ceiling of the limiter when a pass comes out above it', () => {
    const master = new MasterSearch({ targetLufs: -14, ceilingDbtp: -1 }, { integratedLufs: -20, truePeakDbtp: -3 });
    expect(master.next).toEqual({ gainDb: 6, ceilingDbtp: -1 });
    const step = master.report({ integratedLufs: -14, truePeakDbtp: -0.9 });
    expect(step.kind).toBe('again');
    expect(master.next.ceilingDbtp).toBeCloseTo(-1.11, 9);
  });

  it('ends after six passes whatever it is told', () => {
    const master = new MasterSearch({ targetLufs: -14, ceilingDbtp: -1 }, { integratedLufs: -20, truePeakDbtp: -3 });
    let passes = 0;
    let step: MasterStep;
    do {
      step = master.report({ integratedLufs: passes % 2 === 0 ? -13 : -15, truePeakDbtp: -2 });
      passes++;
    } while (step.kind === 'again');
    expect(passes).toBeLessThanOrEqual(6);
    expect(step.notes[0]).toContain('LU');
  });
});

describe('Master', () => {
  describe('as a Processor', () => {
    processorSuite({ make: () => new Master({ gainDb: 6, ceilingDbtp: -1 }, rateHz), inputChannels: 2, peak: 0.8 });
  });

  it('passes to the bit at 0 dB under the ceiling', () => {
    const bus = ensemble(5, 0).map((samples) => samples.map((value) => 0.3 * value));
    const output = runInBlocks(new Master({ gainDb: 0, ceilingDbtp: -1 }, rateHz), bus, 3000);
    expect(snrDb(bus, output)).toBe(Number.POSITIVE_INFINITY);
  });
});
