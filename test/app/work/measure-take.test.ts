import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { openLaid } from '../../../app/work/laid-sound.ts';
import { WorkPool } from '../../../app/work/pool.ts';
import { openSound } from '../../../app/work/sound-file.ts';
import { keptLoudness } from '../../../app/work/tasks/measure-take.ts';
import { measureLoudness } from '../../../core/loudness/gated-loudness.ts';
import { Random } from '../../../core/signal/random.ts';
import { cleanFolders, freshFolder } from '../desk/desk-kit.ts';

cleanFolders();

const SEED = 31;

describe('measuring a take', () => {
  // Below 8 kHz loudness is not defined: such a take is measured as it is laid on the session's time line.
  it.each([48000, 44100, 4000])(`tells what a LoudnessMeter tells of it, at %i Hz (seed ${SEED})`, async (rateHz) => {
    const random = new Random(SEED);
    const samples = Float32Array.from({ length: 5.3 * rateHz }, (_, n) =>
      n < 3 * rateHz ? 0.2 * Math.sin((2 * Math.PI * 440 * n) / rateHz) + 0.01 * random.gaussian() : 0,
    );
    const soundPath = join(freshFolder(), 'take.f32');
    writeFileSync(soundPath, samples);
    const place = { offsetSec: 0, driftPpm: 0 };
    const sound = rateHz < 8000 ? openLaid({ soundPath, rateHz, place }) : openSound(soundPath, rateHz);
    const { integratedLufs, curves } = measureLoudness(sound, { curves: true, truePeak: 'off' });
    sound.close();
    expect(integratedLufs).toBeGreaterThan(-25);
    expect(await new WorkPool(0).run('measureTake', { soundPath, rateHz })).toEqual(
      keptLoudness(integratedLufs, curves!.momentaryLufs),
    );
  });
});
