import { describe, expect, it } from 'vitest';
import type { StreamPlan } from '../../../renderer/playback/stream-plan.ts';
import { snrDb } from '../../processor-suite.ts';
import { chainMix, chunkOf, EngineRun, greatestStep, inventedVoices, QUANTUM, streamOf } from './play.ts';

const frames = 48_000;
const whole: StreamPlan = { startFrame: 0, loop: null, endFrame: frames };

/** A sine in both sources of one auditioned voice, the second in another size: steps of the switch show. */
function sines(): Float32Array[] {
  const sine = Float32Array.from({ length: frames }, (_, n) => 0.5 * Math.sin((2 * Math.PI * 200 * n) / 48000));
  return [sine, sine.map((value) => 0.25 * value)];
}

function cut(samples: readonly number[], from: number, to: number): Float32Array {
  return Float32Array.from(samples.slice(from, to));
}

describe('MixEngine', () => {
  it('plays a whole stream to the sample as the chain of the rendered file makes it; seed 3, eight voices, limiter at work', () => {
    const sources = inventedVoices(8, frames, 3);
    const stream = streamOf(1, 8);
    const run = new EngineRun();
    run.send(stream, { kind: 'run', running: true });
    for (let at = -12_000; at < frames; at += 10_000) {
      const count = Math.min(10_000, frames - at);
      run.send(chunkOf(1, whole, sources, at, count, at + count >= frames));
    }
    run.run(500);
    const began = run.began(1);
    const wanted = chainMix(stream, sources);
    const got = [run.left, run.right].map((side) => cut(side, began, began + frames));
    expect(snrDb(wanted, got)).toBe(Number.POSITIVE_INFINITY);
    expect(run.told.find((one) => one.kind === 'ended')).toMatchObject({ epoch: 1 });
    expect(run.left.slice(began + frames + QUANTUM).every((value) => value === 0)).toBe(true);
  });

  it('starts in the middle as the whole would sound there, to -100 dB after the rise of 5 ms', () => {
    const sources = inventedVoices(3, frames, 5);
    const plan: StreamPlan = { startFrame: 30_011, loop: null, endFrame: frames };
    const stream = streamOf(1, 3, { fadeIn: true, firstFrame: -24_000 });
    const gentle = { ...stream, settings: { ...stream.settings, masterGainDb: -6 } };
    const run = new EngineRun();
    run.send(gentle, chunkOf(1, plan, sources, -24_000, 24_000 + frames - 30_011, true), {
      kind: 'run',
      running: true,
    });
    run.run(300);
    const began = run.began(1);
    const wanted = chainMix(gentle, sources).map((side) => side.slice(30_011 + 256, 47_000));
    const got = [run.left, run.right].map((side) => cut(side, began + 256, began + 47_000 - 30_011));
    expect(snrDb(wanted, got)).toBeGreaterThan(100);
  });

  it('wraps a loop to the sample: the second round is the first', () => {
    const sources = inventedVoices(2, frames, 8);
    const loop = { fromFrame: 12_345, toFrame: 17_346 };
    const plan: StreamPlan = { startFrame: loop.fromFrame, loop, endFrame: frames };
    const run = new EngineRun();
    const quiet = streamOf(1, 2);
    run.send({ ...quiet, settings: { ...quiet.settings, masterGainDb: -12 } });
    run.send(chunkOf(1, plan, sources, -12_000, 42_000, false), { kind: 'run', running: true });
    run.run(200);
    const began = run.began(1);
    const round = loop.toFrame - loop.fromFrame;
    // The low cut remembers the end of the round before for some 15 ms, so the first round is left out.
    const first = [cut(run.left, began + round, began + 2 * round)];
    const second = [cut(run.left, began + 2 * round, began + 3 * round)];
    expect(snrDb(first, second)).toBeGreaterThan(120);
  });

  it('fades out when the sound runs dry, stands still, and goes on at the very frame, without a step', () => {
    const steady = [sines()[0]!];
    const run = new EngineRun();
    const stream = streamOf(1, 1);
    run.send({ ...stream, settings: { ...stream.settings, masterGainDb: -6 } }, { kind: 'run', running: true });
    run.send(chunkOf(1, whole, steady, -12_000, 30_000, false));
    run.run(250);
    expect(run.told.filter((one) => one.kind === 'starved').at(-1)).toMatchObject({ starved: true });
    const stood = run.told.filter((one) => one.kind === 'anchor').at(-1);
    expect(stood).toMatchObject({ moving: false });
    expect(run.left.slice(-1000).every((value) => value === 0)).toBe(true);
    run.send(chunkOf(1, whole, steady, 18_000, 30_000, true));
    run.run(100);
    const went = run.told.filter((one) => one.kind === 'anchor').at(-1);
    expect(went).toMatchObject({ moving: true, streamFrame: (stood as { streamFrame: number }).streamFrame });
    expect(run.told.filter((one) => one.kind === 'starved').at(-1)).toMatchObject({ starved: false });
    expect(greatestStep(run.left, 0, run.left.length)).toBeLessThan(0.02);
  });

  it('switches before, after and taken away inside 12 ms, without a step or a jump in time', () => {
    const base = streamOf(1, 1, { voices: [{ id: 'voice-0', sources: [0, 1] }] });
    const settings = {
      ...base.settings,
      masterGainDb: 0,
      voices: [{ id: 'voice-0', heard: true, strip: { gainDb: 0, placeDeg: -90, lowCutHz: null, muted: false } }],
    };
    const run = new EngineRun();
    run.send({ ...base, settings }, chunkOf(1, whole, sines(), -12_000, 60_000, true), { kind: 'run', running: true });
    const sizeAt = (from: number): number => Math.max(...cut(run.left, from, from + 240).map(Math.abs));
    run.run(60);
    const expected = { before: 0.5, after: 0.125, takenAway: 0.375 };
    for (const listen of ['before', 'takenAway', 'after', 'takenAway', 'before'] as const) {
      const at = run.frame;
      run.send({ kind: 'settings', settings: { ...settings, listen } });
      run.run(30);
      // 10 ms of change and 5.4 ms of the limiter's look-ahead.
      expect(sizeAt(at + 740)).toBeCloseTo(expected[listen], 2);
    }
    expect(greatestStep(run.left, run.began(1), run.left.length)).toBeLessThan(0.02);
    expect(run.told.filter((one) => one.kind === 'anchor' && one.moving)).toHaveLength(1);
    // In time throughout: the wave is where it would be had nothing been switched.
    const at = run.frame - 480 - run.began(1);
    const sine = sines()[0]!;
    expect(run.left[run.frame - 480]).toBeCloseTo(sine[at]!, 3);
  });

  it('mutes a voice within 26 ms of the message, and lets one be heard alone', () => {
    const sources = sines();
    const run = new EngineRun();
    const base = streamOf(1, 2);
    run.send(base, chunkOf(1, whole, sources, -12_000, 60_000, true), { kind: 'run', running: true });
    run.run(60);
    const voices = base.settings.voices.map((voice) => ({ ...voice, heard: false }));
    const at = run.frame;
    run.send({ kind: 'settings', settings: { ...base.settings, voices } });
    run.run(20);
    // 20 ms of glide and 5.4 ms of look-ahead; then only the limiter's gain is left on silence.
    expect(Math.max(...cut(run.left, at + 1260, at + 2000).map(Math.abs))).toBeLessThan(1e-9);
  });

  it('lets a stream laid anew join at the frame the old one is at, across 10 ms, unheard when the sound is the same', () => {
    const sources = inventedVoices(2, frames, 21);
    const run = new EngineRun();
    const quiet = { ...streamOf(1, 2), settings: { ...streamOf(1, 2).settings, masterGainDb: -12 } };
    run.send(quiet, chunkOf(1, whole, sources, -12_000, 60_000, true), { kind: 'run', running: true });
    run.run(80);
    const later: StreamPlan = { startFrame: run.frame - run.began(1) - 1000, loop: null, endFrame: frames };
    run.send({ ...quiet, epoch: 2, takeOver: 'join', firstFrame: -4000 });
    run.run(10);
    run.send(chunkOf(2, later, sources, -4000, 4000 + frames - later.startFrame, true));
    run.run(200);
    const began = run.began(1);
    const wanted = chainMix(quiet, sources);
    const got = [run.left, run.right].map((side) => cut(side, began, began + 20_000));
    expect(
      snrDb(
        wanted.map((side) => side.slice(0, 20_000)),
        got,
      ),
    ).toBeGreaterThan(80);
    expect(run.told.some((one) => one.kind === 'anchor' && one.epoch === 2 && one.moving)).toBe(true);
  });

  it('goes on into a longer session that was being laid when the old one ended', () => {
    const sources = inventedVoices(1, 2 * frames, 30);
    const run = new EngineRun();
    run.send(streamOf(1, 1), chunkOf(1, whole, sources, -12_000, 60_000, true), { kind: 'run', running: true });
    run.run(340);
    const longer: StreamPlan = { startFrame: 40_000, loop: null, endFrame: 2 * frames };
    run.send({ ...streamOf(2, 1), takeOver: 'join' });
    run.run(60);
    expect(run.told.some((one) => one.kind === 'ended')).toBe(false);
    run.send(chunkOf(2, longer, sources, -12_000, 12_000 + 2 * frames - 40_000, true));
    run.run(500);
    expect(run.told.filter((one) => one.kind === 'ended')).toMatchObject([{ epoch: 2 }]);
    expect(run.left.slice(run.began(2) + 20_000, run.began(2) + 20_100).some((value) => value !== 0)).toBe(true);
  });

  it('fades the old stream out and the new one in at a seek, without a step above that of the sound itself', () => {
    const tone = [sines()[0]!];
    const run = new EngineRun();
    const base = streamOf(1, 1);
    const strip = { gainDb: 0, placeDeg: -90, lowCutHz: null, muted: false };
    const voices = [{ id: 'voice-0', heard: true, strip }];
    const quiet = { ...base, settings: { ...base.settings, masterGainDb: -6, voices } };
    run.send(quiet, chunkOf(1, whole, tone, -12_000, 60_000, true), { kind: 'run', running: true });
    run.run(60);
    const there: StreamPlan = { startFrame: 30_060, loop: null, endFrame: frames };
    run.send({ ...quiet, epoch: 2, fadeIn: true });
    run.run(20);
    run.send(chunkOf(2, there, tone, -12_000, 29_940, true));
    run.run(60);
    expect(greatestStep(run.left, run.began(1), run.left.length)).toBeLessThan(0.02);
    const at = run.began(2);
    const wanted = [tone[0]!.slice(30_060 + 256, 31_000).map((value) => value * 10 ** (-6 / 20))];
    expect(snrDb(wanted, [cut(run.left, at + 256, at + 940)])).toBeGreaterThan(120);
  });

  it('tells levels each 50 ms: a full-scale 1 kHz sine on both sides at -20 dB reads -20.0 LUFS, and peaks by voice', () => {
    const tone = [Float32Array.from({ length: frames }, (_, n) => Math.sin((2 * Math.PI * 997 * n) / 48000))];
    const base = streamOf(1, 1);
    const strip = { gainDb: -20, placeDeg: 0, lowCutHz: null, muted: false };
    const settings = { ...base.settings, masterGainDb: 3.0103, voices: [{ id: 'voice-0', heard: true, strip }] };
    const run = new EngineRun();
    run.send({ ...base, settings }, chunkOf(1, whole, tone, -12_000, 60_000, true), { kind: 'run', running: true });
    run.run(300);
    const levels = run.told.filter((one) => one.kind === 'levels');
    expect(levels.length).toBeGreaterThanOrEqual(14);
    const last = levels.at(-1)!;
    expect(last.momentaryLufs).toBeCloseTo(-20, 1);
    expect(last.voicePeaks[0]).toBeCloseTo(0.1, 3);
    expect(last.limiterDb).toBe(0);
  });

  it('hands every used buffer back to the page', () => {
    const run = new EngineRun();
    run.send(streamOf(1, 1), { kind: 'run', running: true });
    for (let at = -12_000; at < frames; at += 6000) {
      run.send(chunkOf(1, whole, sines().slice(0, 1), at, 6000, at + 6000 >= frames));
    }
    run.run(500);
    expect(run.told.filter((one) => one.kind === 'spent')).toHaveLength(10);
  });
});
