import { describe, expect, it } from 'vitest';
import {
  againstTarget,
  heldPeak,
  LoudnessTrace,
  limiterWords,
  staffLines,
} from '../../../../renderer/steps/blend/loudness-trace.ts';
import { bandMiddlesHz, LOOK_FRAMES, lookAt } from '../../../../renderer/steps/blend/spectrum-meyda.ts';
import {
  degreesAt,
  initialsOf,
  markPath,
  placeShort,
  placeWords,
  ringsOf,
  spotAt,
  stageFrame,
} from '../../../../renderer/steps/blend/stage-geometry.ts';
import { blendedVoices, initialsOfAll } from '../../../../renderer/steps/blend/voices-in-blend.ts';
import { benchSession } from '../bench-session.ts';

describe('stage', () => {
  const frame = stageFrame(500, 300, 0);

  it('reads every whole degree back from where it is drawn', () => {
    for (let degrees = -90; degrees <= 90; degrees++) {
      const { x, y } = spotAt(frame, degrees);
      expect(degreesAt(frame, x, y)).toBe(degrees);
    }
  });

  it('holds what lies behind the listener to the ends of the arc', () => {
    expect(degreesAt(frame, frame.middleX - 50, frame.middleY + 80)).toBe(-90);
    expect(degreesAt(frame, frame.middleX + 50, frame.middleY + 80)).toBe(90);
  });

  it('lies inside its box', () => {
    for (const degrees of [-90, 0, 90]) {
      const { x, y } = spotAt(frame, degrees);
      expect(x).toBeGreaterThanOrEqual(0);
      expect(x).toBeLessThanOrEqual(frame.width);
      expect(y).toBeGreaterThanOrEqual(0);
      expect(y).toBeLessThanOrEqual(frame.height);
    }
  });

  it('says places in words', () => {
    expect(placeWords(-30)).toBe('30 degrees left');
    expect(placeWords(1)).toBe('1 degree right');
    expect(placeWords(-0.4)).toBe('in the middle');
    expect(placeShort(12)).toBe('12° right');
  });

  it('puts marks that would cover each other onto rings of their own', () => {
    expect(ringsOf([0, 1, 40], 10, 3)).toEqual([0, 1, 0]);
    expect(new Set(ringsOf([5, 5, 5], 10, 3)).size).toBe(3);
  });

  it('gives each of the eight colours another shape', () => {
    expect(new Set(Array.from({ length: 8 }, (_, colour) => markPath(colour, 10))).size).toBe(8);
  });

  it('names voices by their initials, and by number where they would share them', () => {
    expect(initialsOf('Soprano recorder')).toBe('SR');
    expect(initialsOf('Horn 2')).toBe('H2');
    expect(initialsOf('🎻 Geige hoch 2026')).toBe('GH');
    expect(initialsOf('🎺')).toBe('🎺');
    expect(initialsOf('  ')).toBe('?');
    expect(initialsOfAll(['Soprano solo', 'Soprano second', 'Bass'])).toEqual(['S1', 'S2', 'B']);
  });
});

describe('voices in the blend', () => {
  it('add the fine move to the gain found, and that to the loudness as recorded', () => {
    const session = benchSession(1);
    const voices = [{ ...session.voices[0]!, trimDb: 1.5 }];
    const blend = {
      voices: [
        {
          voiceId: 'voice-1',
          takeId: 'take-1',
          gainDb: 2,
          placeDeg: -20,
          leftOut: false,
          reason: '',
          isOff: false,
          joins: [],
        },
      ],
      span: null,
      lengthFrames: 0,
      master: null,
      measuring: false,
    };
    const takes = { 'take-1': { integratedLufs: -24 } } as never;
    const [one] = blendedVoices({ ...session, voices }, blend, takes);
    expect(one).toMatchObject({ gainDb: 3.5, placeDeg: -20, recordedLufs: -24, mixedLufs: -20.5 });
  });

  it('wait, without numbers, for a blend that is not there yet', () => {
    expect(blendedVoices(benchSession(1), null, {})[0]).toMatchObject({ gainDb: null, mixedLufs: null, placeDeg: 0 });
  });
});

describe('loudness', () => {
  it('is written on five lines 6 LU apart with the target on the second', () => {
    expect(staffLines(-14)).toEqual([-8, -14, -20, -26, -32]);
  });

  it('keeps the last 30 s, newest last', () => {
    const trace = new LoudnessTrace();
    for (let n = 0; n < 700; n++) trace.add(-n, -n);
    const seen: number[] = [];
    trace.forEach((_, momentary) => {
      seen.push(momentary);
    });
    expect(seen.length).toBe(600);
    expect(seen[0]).toBe(-100);
    expect(seen.at(-1)).toBe(-699);
  });

  it('is said in words: silent, at the target within 1 LU, above, below', () => {
    expect(againstTarget(Number.NEGATIVE_INFINITY, -14)).toBe('silent');
    expect(againstTarget(-14.9, -14)).toBe('at the target');
    expect(againstTarget(-8, -14)).toBe('6 LU above target');
    expect(limiterWords(0)).toBe('at rest');
  });

  it('lets a peak fall by 12 dB in a second', () => {
    expect(20 * Math.log10(heldPeak(1, 0, 1))).toBeCloseTo(-12, 9);
    expect(heldPeak(0.1, 0.5, 1)).toBe(0.5);
  });
});

describe('live spectrum', () => {
  const sine = (hz: number): Float32Array =>
    Float32Array.from({ length: LOOK_FRAMES }, (_, n) => Math.sin((2 * Math.PI * hz * n) / 48000));

  it('shows a full-scale sine at 0 dB in its third of an octave, within 0.3 dB, and at least 30 dB less two bands on', () => {
    const { bandsDb, centreHz } = lookAt(sine(1000));
    const at = bandMiddlesHz.findIndex((hz) => Math.abs(hz - 1000) < 1);
    expect(Math.abs(bandsDb[at]!)).toBeLessThan(0.3);
    expect(bandsDb[at + 2]!).toBeLessThan(-30);
    expect(bandsDb[at - 2]!).toBeLessThan(-30);
    expect(Math.abs(centreHz! - 1000)).toBeLessThan(60);
  });

  it('shows the lowest band, 50 Hz, within 1 dB of a sine in it', () => {
    expect(Math.abs(lookAt(sine(50)).bandsDb[0]!)).toBeLessThan(1);
  });

  it('has nothing to show in silence: -Infinity dB and no brightness', () => {
    const { bandsDb, centreHz } = lookAt(new Float32Array(LOOK_FRAMES));
    expect(centreHz).toBeNull();
    expect(bandsDb.every((db) => db === Number.NEGATIVE_INFINITY)).toBe(true);
  });

  it('refuses a look of another length', () => {
    expect(() => lookAt(new Float32Array(1000))).toThrow(RangeError);
  });
});
