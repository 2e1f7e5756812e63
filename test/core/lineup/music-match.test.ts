import { describe, expect, it } from 'vitest';
import { likeliestMusic, type Music } from '../../../core/lineup/music-match.ts';

/** A place of the music, told by its lead; onceTold: how sure it is once something else tells which of several places it is. */
function place(leadSec: number, height: number, trust: number, onceTold?: number): Music {
  const testimony = {
    kind: 'onsets',
    atSec: 40,
    takeSec: 40 + leadSec,
    uncertaintySec: 0.007,
    trust,
    note: '',
  } as const;
  const fit = {
    laterSec: 0,
    atSec: 40,
    errorSec: 0.002,
    slopePpm: 0,
    slopeErrorPpm: 100,
    contrast: 3,
    stretches: 15,
    along: [],
  };
  return {
    ...{ leadSec, height, testimony, fit, onceTold, slopePpm: 0, slopeErrorPpm: 100, likelyDriftPpm: 0, lateness: [] },
    ...{ assumed: { leadSec, driftPpm: 0 }, evenLeadSec: leadSec, latenessSec: 0.003, byNotes: true, broad: false },
    attackDoubtSec: 0,
  };
}

const answers = (bySec: Readonly<Record<string, number>>) => (music: Music) => bySec[music.leadSec] ?? 0;

describe('the place of the music', () => {
  const halfBeatOff = place(1.87, 15.6, 0.45, 0.8);
  const right = place(1.51, 14.6, 0.45, 0.75);

  it('is the lower of two that fit nearly alike where a clap answers there alone, and is then believed', () => {
    const music = likeliestMusic([halfBeatOff, right], answers({ 1.51: 0.6 }))!;
    expect([music.leadSec, music.testimony.trust]).toEqual([1.51, 0.75]);
  });

  it('is the higher of two that fit nearly alike where no clap answers, and no surer than before', () => {
    const music = likeliestMusic([halfBeatOff, right], answers({}))!;
    expect([music.leadSec, music.testimony.trust]).toEqual([1.87, 0.45]);
  });

  it('is not believed where claps answer at two that fit nearly alike, or hardly', () => {
    expect(likeliestMusic([halfBeatOff, right], answers({ 1.51: 0.6, 1.87: 0.4 }))!.testimony.trust).toBe(0);
    expect(likeliestMusic([halfBeatOff, right], answers({ 1.51: 0.1 }))!.testimony.trust).toBe(0);
  });

  it('is as sure as its notes say where it fits far better than others, whatever claps do', () => {
    const clear = place(1.51, 30, 0.97);
    for (const answer of [0, 0.1, 0.9]) expect(likeliestMusic([clear], answers({ 1.51: answer }))).toBe(clear);
    expect(likeliestMusic([], answers({}))).toBeUndefined();
  });
});
