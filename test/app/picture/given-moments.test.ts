import { mkdirSync } from 'node:fs';
import { join } from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import { readWhen, withGivenMoments } from '../../../app/picture/given-moments.ts';
import { readMixedSession, takesSeen } from '../../../app/picture/session-pictures.ts';
import { usualDesign } from '../../../core/picture/picture-design.ts';
import { emptySession } from '../../../core/session/schema.ts';
import { Random } from '../../../core/signal/random.ts';
import { makeFolder, writeWave } from '../media/clip-kit.ts';
import { makeSession } from './session-kit.ts';

const span = (fromSec: number, toSec: number) => ({ kind: 'span', span: { fromSec, toSec } }) as const;

describe('moments given on the command line', () => {
  const folder = makeFolder();
  afterAll(() => folder.remove());

  /** Noise of 20 s that sounds where it is told to. */
  const noise = (seed: number, levelAt: (sec: number) => number): Float32Array => {
    const random = new Random(seed);
    return Float32Array.from({ length: 20 * 48000 }, (_, n) => levelAt(n / 48000) * random.gaussian());
  };

  it('are bars where the guide has them, else times, or solos', () => {
    const times = () => ({ fromSec: 5, toSec: 12 });
    expect(readWhen('solo', emptySession('x'), times)).toEqual({ kind: 'solo' });
    expect(readWhen('5-12', emptySession('x'), times)).toEqual(span(5, 12));
  });

  it('make a voice large where it sounds alone, within 0.6 s, and away where it does not enter', async () => {
    mkdirSync(join(folder.path, 'clips'));
    const sounds = [noise(1, (sec) => (sec > 8 && sec < 14 ? 0.001 : 0.1)), noise(2, () => 0.1)];
    const clips = sounds.map((samples, n) => {
      const path = join(folder.path, 'clips', `voice ${n}.wav`);
      writeWave(path, [samples], 48000);
      return path;
    });
    const session = join(folder.path, 'session');
    const voices = clips.map((clip, n) => ({ name: `voice ${n}`, clip, offsetSec: 0 }));
    makeSession(session, { voices, mix: sounds, music: null });
    const mixed = await readMixedSession(session);
    const takes = await takesSeen(mixed);
    const given = {
      enter: [
        { voiceId: 'v0', when: span(2, 5) },
        { voiceId: 'v0', when: span(15, 18) },
      ],
      grow: [{ voiceId: null, when: { kind: 'solo' } as const }],
    };
    const usual = usualDesign({ widthPx: 640, heightPx: 360 });
    const { tiles } = await withGivenMoments(usual, given, mixed, takes, new AbortController().signal);
    expect(tiles.find(({ voiceId }) => voiceId === 'v0')).toEqual({
      voiceId: 'v0',
      span: { fromSec: 2, toSec: 18 },
      moments: [{ fromSec: 5, toSec: 15, as: 'away', soft: true }],
    });
    const [large] = tiles.find(({ voiceId }) => voiceId === 'v1')!.moments!;
    expect(large).toMatchObject({ as: 'large', soft: true });
    expect(Math.abs(large!.fromSec - 8)).toBeLessThan(0.6);
    expect(Math.abs(large!.toSec - 14)).toBeLessThan(0.6);
    const alone = { enter: [], grow: [{ voiceId: 'v0', when: { kind: 'solo' } as const }] };
    await expect(withGivenMoments(usual, alone, mixed, takes, new AbortController().signal)).rejects.toThrow(
      /no solo was found/,
    );
  });
});
