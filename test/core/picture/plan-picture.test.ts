import { describe, expect, it } from 'vitest';
import { graphText } from '../../../core/picture/filter-graph.ts';
import { usualDesign } from '../../../core/picture/picture-design.ts';
import type { PictureRequest, VoicePicture } from '../../../core/picture/picture-plan.ts';
import { planPicture } from '../../../core/picture/plan-picture.ts';
import { clipPicture } from './clip-kit.ts';

const canvas = { widthPx: 1280, heightPx: 720 };
const ALL = new Set(['zscale', 'tonemap']);

function voice(n: number, changes: Parameters<typeof clipPicture>[0] = {}, offsetSec = 0): VoicePicture {
  const piece = { picture: clipPicture({ file: `/clips/${n}.mp4`, ...changes }), place: { offsetSec, driftPpm: 0 } };
  return {
    voiceId: `v${n}`,
    name: `voice ${n}`,
    isLead: n === 0,
    colour: n % 8,
    pieces: [{ ...piece, fromSec: -1e9, toSec: 1e9 }],
    peaks: [],
  };
}

function request(voices: readonly VoicePicture[], changes: Partial<PictureRequest> = {}): PictureRequest {
  return {
    design: usualDesign(canvas),
    voices,
    span: { fromSec: 2, toSec: 12 },
    sound: { file: '/s/mix.wav', rateHz: 48000, startSec: 0, gainDb: 0 },
    filters: ALL,
    ...changes,
  };
}

describe('a planned picture', () => {
  it('cuts sound and picture to the same length within one frame of the sound', () => {
    const plan = planPicture(request([voice(0), voice(1, {}, 0.31)]));
    const frames = plan.sound!.toFrame - plan.sound!.fromFrame;
    expect(Math.abs(frames / 48000 - plan.lengthSec)).toBeLessThan(1 / 48000);
    expect(plan.sound!.fromFrame / 48000).toBeCloseTo(plan.fromSec, 9);
    expect(plan.fromSec - 2).toBeLessThan(1 / 30);
  });

  it('stacks plain tiles and lays rounded ones that overlap over a ground', () => {
    expect(planPicture(request([voice(0), voice(1)])).way).toBe('stack');
    const design = {
      ...usualDesign(canvas),
      roundingPx: 20,
      tiles: [
        { voiceId: 'v0', box: { xPx: 0, yPx: 0, widthPx: 800, heightPx: 450 } },
        { voiceId: 'v1', box: { xPx: 400, yPx: 200, widthPx: 800, heightPx: 450 }, order: 1 },
      ],
    };
    const plan = planPicture(request([voice(0), voice(1)], { design }));
    expect(plan.way).toBe('overlay');
    expect(graphText(plan.graph)).toContain('alphamerge');
  });

  it('makes a tile come and go at session times', () => {
    const design = { ...usualDesign(canvas), tiles: [{ voiceId: 'v1', span: { fromSec: 4, toSec: 8 } }] };
    const plan = planPicture(request([voice(0), voice(1)], { design }));
    expect(graphText(plan.graph)).toMatch(/enable='gte\(t,2\.0000\)\*lt\(t,6\.0000\)'/);
  });

  it('turns, deinterlaces, maps HLG and thins a fast clip before scaling', () => {
    const clip = {
      rotationDeg: -90,
      isInterlaced: true,
      rate: 60,
      colour: { matrix: 'bt2020nc', primaries: 'bt2020', transfer: 'arib-std-b67', range: 'tv' as const },
    };
    const plan = planPicture(
      request([voice(0, clip)], { design: { ...usualDesign(canvas), rate: { over: 30, under: 1 } } }),
    );
    const text = graphText(plan.graph);
    const order = ['yadif', 'settb', 'setpts', 'fps=fps=30', 'transpose=clock', 'scale=', 'tonemap', 'tpad', 'trim'];
    const places = order.map((part) => text.indexOf(part));
    expect(places).toEqual(places.toSorted((one, other) => one - other));
    expect(places[0]).toBeGreaterThanOrEqual(0);
    expect(plan.notes.join(' ')).toContain('HLG');
  });

  it('says so where HLG cannot be mapped', () => {
    const colour = { matrix: 'bt2020nc', primaries: 'bt2020', transfer: 'smpte2084', range: 'tv' as const };
    const plan = planPicture(request([voice(0, { colour })], { filters: new Set() }));
    expect(plan.notes.join(' ')).toMatch(/PQ.*pale/);
    expect(graphText(plan.graph)).not.toContain('zscale');
  });

  it('draws a tile for a voice without a picture, with its name', () => {
    const silent = { ...voice(1), pieces: [], peaks: [0.1, 0.5, 0.3] };
    const plan = planPicture(request([voice(0), silent]));
    expect(plan.tiles[1]!.kind).toBe('drawn');
    expect(plan.drawings.map(({ kind }) => kind)).toEqual(['voice', 'line']);
  });

  it('refuses voices without any picture, odd canvases and an empty stretch', () => {
    expect(() => planPicture(request([{ ...voice(0), pieces: [] }]))).toThrow(/None of the clips has a picture/);
    const odd = { ...usualDesign(canvas), canvas: { widthPx: 1281, heightPx: 720 } };
    expect(() => planPicture(request([voice(0)], { design: odd }))).toThrow(/even/);
    expect(() => planPicture(request([voice(0)], { span: { fromSec: 3, toSec: 3 } }))).toThrow(/0\.00 s long/);
  });

  it('tells of a clip that ends 8 s before the video and one that begins 1 s late', () => {
    const plan = planPicture(request([voice(0, { endSec: 4 }), voice(1, {}, 3)]));
    expect(plan.notes.join(' ')).toMatch(/voice 0 ends 8\.0 s before/);
    expect(plan.notes.join(' ')).toMatch(/voice 1 begins 1\.0 s after/);
  });

  it('joins passages of several takes at pictures of the canvas', () => {
    const one = voice(0);
    const pieces = [
      { ...one.pieces[0]!, toSec: 5 },
      { ...voice(7, {}, 0.2).pieces[0]!, fromSec: 5 },
    ];
    const plan = planPicture(request([{ ...one, pieces }]));
    const text = graphText(plan.graph);
    const counts = [...text.matchAll(/trim=end_frame=(\d+)/g)].map((match) => Number(match[1]));
    expect(counts[0]! + counts[1]!).toBe(plan.pictures);
    expect(text).toContain('concat=n=2');
  });

  it('plans 25 voices at 2160p within 300 ms of processor time and says what they cost', () => {
    const voices = Array.from({ length: 25 }, (_, n) => voice(n, { coded: { widthPx: 3840, heightPx: 2160 } }));
    const design = usualDesign({ widthPx: 3840, heightPx: 2160 });
    const from = process.cpuUsage();
    const plan = planPicture(request(voices, { design: { ...design, names: true } }));
    // Some 60 ms on a quiet machine.
    expect(process.cpuUsage(from).user / 1000).toBeLessThan(300);
    expect(plan.notes.join(' ')).toMatch(/25 clips .* GB/);
    expect(plan.graph.inputs.filter(({ options }) => options.includes('-threads'))).toHaveLength(25);
  });
});
