import { describe, expect, it } from 'vitest';
import type { DeskView } from '../../../../app/shell/contract/desk-view.ts';
import { purposeOf } from '../../../../renderer/steps/render/render-choices.ts';
import { renderPlan, sizeWords } from '../../../../renderer/steps/render/render-plan.ts';
import {
  curveRange,
  curveSentence,
  resultSentence,
  stemPeakWords,
} from '../../../../renderer/steps/render/result-words.ts';
import { standInBridge } from '../../../stand-in/stand-in-bridge.ts';

async function inventedView(query: string): Promise<DeskView> {
  const { desk } = await standInBridge(new URLSearchParams(query)).calls.begin({});
  return desk!;
}

const choices = { folder: null, wave: 'pcm24', copy: 'm4a', stems: true } as const;

describe('what a render will make', () => {
  it('lists mix, copy, stems and report with length and size: 17.28 MB a minute at 24 bit', async () => {
    const plan = renderPlan(await inventedView('length=60'), choices);
    expect(plan.files.map((file) => file.what)).toEqual(['mix', 'copy', 'stems', 'report']);
    expect(plan.files[0]).toMatchObject({ lengthSec: 60, sizeBytes: 17_280_000 });
    // The copy runs from 7.5 s to 59.5 s, at 320 kbit/s.
    expect(plan.files[1]).toMatchObject({ lengthSec: 52, sizeBytes: 2_080_000 });
    expect(plan.files[2]).toMatchObject({ count: 4, sizeBytes: 4 * 60 * 48000 * 4 });
    expect(plan.leftOut).toEqual([]);
    expect(plan.blocked).toBeNull();
  });

  it('says of each voice that is left out why, and makes no stem of it', async () => {
    const view = await inventedView('missing');
    const { session, blend } = view;
    const changed: DeskView = {
      ...view,
      session: {
        ...session,
        voices: session.voices.map((voice, at) => (at === 0 ? { ...voice, muted: true } : voice)),
      },
      blend: { ...blend!, voices: blend!.voices.map((voice, at) => (at === 3 ? { ...voice, leftOut: true } : voice)) },
    };
    const plan = renderPlan(changed, choices);
    expect(plan.leftOut.map((one) => one.voice)).toEqual(['Soprano recorder', 'Alto recorder', 'Bass viol']);
    expect(plan.leftOut[0]!.why).toContain('muted');
    expect(plan.leftOut[1]!.why).toContain('missing');
    expect(plan.leftOut[2]!.why).toContain('Line up');
    expect(plan.sounding).toBe(1);
    expect(plan.files.find((file) => file.what === 'stems')!.count).toBe(1);
  });

  it('does not start without a voice that sounds', async () => {
    expect(renderPlan(await inventedView('voices=0'), choices).blocked).toContain('Add clips');
  });

  it('writes sizes as people do', () => {
    expect(sizeWords(400)).toBe('1 kB');
    expect(sizeWords(41_000)).toBe('41 kB');
    expect(sizeWords(2_080_000)).toBe('2.1 MB');
    expect(sizeWords(17_280_000)).toBe('17 MB');
    expect(sizeWords(1_240_000_000)).toBe('1.2 GB');
  });
});

it('tells the true peak of a stem with its sign, and of a silent one that it is', () => {
  expect([-7.44, 0.7, null].map(stemPeakWords)).toEqual(['true peak −7.4 dBTP', 'true peak +0.7 dBTP', 'silent']);
});

describe('how a render came out', () => {
  const measured = {
    integratedLufs: -14.02,
    truePeakDbtp: -1.04,
    targetLufs: -14,
    ceilingDbtp: -1,
    limiterMaxDb: 2,
    shortTermLufs: [],
  };

  it('says that the target is met within 0.1 LU', () => {
    expect(resultSentence(measured)).toBe(
      'It has the loudness you asked for, −14.0 LUFS and never passes the ceiling of −1.0 dBTP.',
    );
  });

  it('says how far a target is missed, and when the limiter works above 6 dB', () => {
    const words = resultSentence({ ...measured, integratedLufs: -15.2, limiterMaxDb: 8 });
    expect(words).toContain('1.2 LU softer');
    expect(words).toContain('up to 8.0 dB');
    expect(resultSentence({ ...measured, integratedLufs: null })).toBe('The mix is silent.');
  });

  it('tells the loudest moment of the curve, one value every 0.5 s', () => {
    const values = [null, -20, -12, -16];
    expect(curveSentence(values, -14)).toBe('Loudest at 0:01 with −12.0 LUFS; the target is −14.0 LUFS.');
    expect(curveSentence([null], -14)).toBe('There is no sound in it.');
    expect(curveRange(values, -14)).toEqual({ low: -25, high: -10 });
    expect(curveRange([-90, -12], -14)).toEqual({ low: -45, high: -10 });
  });

  it('knows the purpose of a target and a ceiling only when both are its own', () => {
    expect(purposeOf(-14, -1)?.name).toBe('To upload');
    expect(purposeOf(-14, -2)).toBeUndefined();
  });
});
