import { describe, expect, it } from 'vitest';
import { type FoundPart, severalTakes } from '../../../core/lineup/several-takes.ts';
import { listenTo } from '../../../core/lineup/take-listener.ts';
import { sourceOf } from '../../../core/lineup/trace.ts';
import { Random } from '../../../core/signal/random.ts';
import { soundOf } from '../../../core/signal/sound.ts';

const RATE_HZ = 16000;
/** Levels of a note's partials. */
const PARTIALS = [1, 0.5, 0.25];

/** A stretch of music: from, to, the seed of its melody, and how much slower it is played. */
type Stretch = readonly [fromSec: number, toSec: number, melody?: number, slower?: number];

/** A clip of noise at -60 dBFS with claps and melodies of notes of a half, a quarter or three quarters of a second. */
function clip(
  lengthSec: number,
  clapsSec: readonly number[],
  music: readonly Stretch[],
  hum = 0,
  knocksSec: readonly number[] = [],
): FoundPart[] {
  const random = new Random(7);
  const samples = new Float32Array(lengthSec * RATE_HZ);
  for (let n = 0; n < samples.length; n++) {
    samples[n] = 0.001 * random.gaussian() + (hum === 0 ? 0 : hum * Math.sin((2 * Math.PI * 100 * n) / RATE_HZ));
  }
  for (const atSec of clapsSec) {
    for (let n = 0; n < 4000; n++)
      samples[Math.round(atSec * RATE_HZ) + n]! += 0.5 * Math.exp(-n / 400) * random.gaussian();
  }
  for (const [fromSec, toSec, melody = 1, slower = 1] of music) {
    const notes = new Random(melody);
    for (let atSec = fromSec; atSec < toSec; ) {
      const hz = 220 * 2 ** (Math.floor(14 * notes.uniform()) / 12);
      const noteSec = 0.25 * (1 + Math.floor(3 * notes.uniform())) * slower;
      const begin = Math.round(atSec * RATE_HZ);
      for (let n = 0; n < noteSec * RATE_HZ && begin + n < toSec * RATE_HZ; n++) {
        const sec = n / RATE_HZ;
        const shape = Math.min(1, (sec + 0.001) / 0.02) * Math.exp(-2 * sec);
        for (let partial = 1; partial <= 3; partial++) {
          samples[begin + n]! += 0.15 * PARTIALS[partial - 1]! * shape * Math.sin(2 * Math.PI * hz * partial * sec);
        }
      }
      atSec += noteSec;
    }
  }
  for (const atSec of knocksSec) {
    for (let n = 0; n < 0.3 * RATE_HZ; n++) samples[Math.round(atSec * RATE_HZ) + n]! += 0.1 * random.gaussian();
  }
  return severalTakes(sourceOf(listenTo(soundOf(samples, RATE_HZ))));
}

describe('a clip with several takes one after another', () => {
  it('is known by its claps, each within 10 ms, and its parts meet in the rests between them', () => {
    const claps = [5, 35.2, 71.7];
    const found = clip(100, claps, [
      [9, 28],
      [39.2, 62],
      [75.7, 95],
    ]);
    expect(found.map(({ by, isBrokenOff }) => [by, isBrokenOff])).toEqual(Array(3).fill(['clap', false]));
    for (const [n, { beginsSec }] of found.entries()) expect(Math.abs(beginsSec - claps[n]!)).toBeLessThan(0.01);
    expect(found.map(({ fromSec }) => fromSec).slice(1)).toEqual(found.map(({ toSec }) => toSec).slice(0, -1));
    expect(found[0]!.fromSec).toBe(0);
    expect(found[2]!.toSec).toBe(100);
    expect(found[1]!.fromSec).toBeGreaterThan(28);
    expect(found[1]!.fromSec).toBeLessThan(32);
  });

  it('is known without claps where the same music begins again, also 4 % slower', () => {
    const found = clip(
      110,
      [],
      [
        [6, 28],
        [38, 62, 1, 1.04],
        [76, 98, 1, 0.97],
      ],
    );
    expect(found.map(({ by }) => by)).toEqual(['music', 'music', 'music']);
    for (const [n, musicSec] of [6, 38, 76].entries()) {
      expect(Math.abs(found[n]!.beginsSec - musicSec)).toBeLessThanOrEqual(0.5);
    }
  });

  it('is known where the player forgot to clap once', () => {
    const music: Stretch[] = [
      [9, 31],
      [42, 64],
      [76, 98],
    ];
    expect(clip(105, [5, 72], music).map(({ by }) => by)).toEqual(['clap', 'music', 'clap']);
  });

  it('is not one with a long rest in its music, nor one with a clap at its end', () => {
    const music: Stretch[] = [
      [9, 31],
      [39, 60, 3],
    ];
    expect(clip(70, [5], music)).toEqual([]);
    expect(clip(70, [], music)).toEqual([]);
    expect(clip(70, [5, 65], music)).toEqual([]);
    expect(clip(70, [5, 65], [[9, 60]])).toEqual([]);
  });

  it('is not one with a click that goes on through a long rest', () => {
    const clicks = Array.from({ length: 12 }, (_, n) => 28.4 + 0.8 * n);
    const music: Stretch[] = [
      [9, 28],
      [38.5, 56, 3],
    ];
    expect(clip(60, [5, ...clicks], music)).toEqual([]);
  });

  it('is not one in which only tuning came before', () => {
    const music: Stretch[] = [
      [3, 8, 5, 3],
      [18, 50],
    ];
    expect(clip(60, [14], music)).toEqual([]);
  });

  it('tells a false start of 6 s from the take that follows it, with and without claps', () => {
    const music: Stretch[] = [
      [6, 12],
      [22, 50],
    ];
    for (const claps of [[], [3, 18]]) {
      expect(clip(58, claps, music).map(({ isBrokenOff }) => isBrokenOff)).toEqual([true, false]);
    }
  });

  /** The same with knocks: where the player handles something, some bursts of noise in a second and a half. */
  const knocks = (atSec: number): number[] => [atSec, atSec + 0.4, atSec + 0.7, atSec + 1.2];
  const twice: Stretch[] = [
    [9, 31],
    [45, 67],
  ];

  it('does not give a knock about after a take to it, and keeps the end of its music', () => {
    const loud = clip(75, [5, 41], twice, 0, knocks(33.5));
    expect(loud).toHaveLength(2);
    expect(Math.abs(loud[0]!.musicSec[1] - 31)).toBeLessThanOrEqual(0.5);
    expect(loud[0]!.toSec).toBeGreaterThan(31.5);
    expect(loud[0]!.toSec).toBeLessThan(33.5);
    expect(loud[1]!.fromSec).toBe(loud[0]!.toSec);
    expect(loud[1]!.beginsSec).toBeCloseTo(41, 1);
  });

  it('keeps a last chord that stands apart with its take where the other take ends so too', () => {
    const chords: Stretch[] = [...twice, [33, 34, 3], [69, 70, 3]];
    const found = clip(80, [5, 41], chords);
    expect(found).toHaveLength(2);
    expect(found[0]!.toSec).toBeGreaterThan(34);
    expect(Math.abs(found[0]!.musicSec[1] - 34)).toBeLessThanOrEqual(0.5);
  });
});
