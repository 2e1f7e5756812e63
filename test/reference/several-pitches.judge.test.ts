import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import { type PitchVerdict, pitchVerdict } from '../../core/pitch/pitch-verdict.ts';
import { secondPitch } from '../../core/pitch/second-pitch.ts';
import { soundOf } from '../../core/signal/sound.ts';
import { RATE_HZ, tracked } from '../core/pitch/pitch-kit.ts';
import { HELD_OUT } from './melody-cases.ts';
import { severalCase, severalSounds, type Texture } from './several-cases.ts';

const folder = mkdtempSync(join(tmpdir(), 'partsong-several-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const LENGTH_SEC = 4;

/** What is said of a take of each instrument, by its track alone and with a look at what sounds beside it. */
function verdicts(texture: Texture, seed: number, isCut = false): { alone: PitchVerdict; looked: PitchVerdict }[] {
  const cases = HELD_OUT.map((player, n) => severalCase(player, texture, seed + n, LENGTH_SEC, isCut));
  return severalSounds(cases, folder).map((sound) => {
    const track = tracked(sound);
    const looked = pitchVerdict(track, () => secondPitch(soundOf(sound, RATE_HZ), track));
    return { alone: pitchVerdict(track), looked };
  });
}

function count(
  all: readonly { alone: PitchVerdict; looked: PitchVerdict }[],
  kind: PitchVerdict['kind'],
): [number, number] {
  const of = (which: 'alone' | 'looked'): number => all.filter((one) => one[which].kind === kind).length;
  return [of('alone'), of('looked')];
}

// Samples of FluidR3 by FluidSynth (both Debian), on instruments that nothing was chosen on, in rooms of 0.25 to 1.8 s at 15 to 40 dB SNR.
// More of them, and those chosen on: test/bench/try-several.ts.
describe('takes of twelve instruments that were held out', () => {
  it.each([
    ['as they are', false],
    ['behind a microphone that keeps back what is low', true],
  ])('are not refused where one plays alone, %s', (name, isCut) => {
    const all = verdicts('one', 71_000, isCut);
    const [alone, looked] = count(all, 'several');
    console.log(`one, ${name}: refused ${alone} by the track alone, ${looked} with a look beside it`);
    expect(looked).toBe(0);
  });

  // Each asked of the twelve: so many refused at least, and so many at most that pass for one clear pitch.
  it.each([
    ['thirds', 8, 1],
    ['two parts', 6, 2],
  ] as const)(
    'are mostly refused where two play (%s): %d of them and more, and %d or fewer pass',
    (texture, least, most) => {
      const all = verdicts(texture, 72_000);
      const refused = count(all, 'several');
      const passed = count(all, 'pitched');
      console.log(`${texture}: refused ${refused.join(' -> ')}, passed ${passed.join(' -> ')} of ${all.length}`);
      expect(refused[1]).toBeGreaterThanOrEqual(least);
      expect(passed[1]).toBeLessThanOrEqual(most);
    },
  );
});
