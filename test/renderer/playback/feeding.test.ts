import { describe, expect, it } from 'vitest';
import { ChunkQueue } from '../../../renderer/playback/chunk-queue.ts';
import { Feeder } from '../../../renderer/playback/feeder.ts';
import type { Anchor, Chunk } from '../../../renderer/playback/messages.ts';
import { SoundClock } from '../../../renderer/playback/sound-clock.ts';
import {
  piecesOf,
  SEAM_FRAMES,
  type StreamPlan,
  sessionFrameAt,
  streamLength,
} from '../../../renderer/playback/stream-plan.ts';

/** A session whose sample at a frame is the frame itself: source 0 as it is, source 1 negative. */
function readRamp(asked: [number, number][] = []) {
  return async (fromFrame: number, frames: number): Promise<Float32Array<ArrayBuffer>> => {
    asked.push([fromFrame, frames]);
    const samples = new Float32Array(2 * frames);
    for (let n = 0; n < frames; n++) {
      samples[n] = fromFrame + n;
      samples[frames + n] = -(fromFrame + n);
    }
    return samples;
  };
}

/** Feeds until `frames` stream frames have come. */
async function feed(plan: StreamPlan, firstFrame: number, frames: number, read = readRamp()): Promise<Chunk[]> {
  const chunks: Chunk[] = [];
  const feeder = new Feeder({
    epoch: 1,
    plan,
    sourceCount: 2,
    firstFrame,
    read,
    give: (chunk) => chunks.push(chunk),
    onTrouble: () => {},
  });
  for (let turns = 0; turns < 1000; turns++) {
    await new Promise((resolve) => setTimeout(resolve));
    const last = chunks.at(-1);
    const have = last === undefined ? firstFrame : last.streamFrame + last.frames;
    if (have >= frames || last?.last) break;
    feeder.use(have);
  }
  feeder.stop();
  return chunks;
}

describe('a stream plan', () => {
  const loop = { fromFrame: 10_000, toFrame: 20_000 };

  it('runs evenly to the end of the session where nothing is repeated', () => {
    const plan = { startFrame: 500, loop: null, endFrame: 48_000 };
    expect(streamLength(plan)).toBe(47_500);
    expect(sessionFrameAt(plan, -100)).toBe(400);
    expect(piecesOf(plan, 100, 1000)).toEqual([{ at: 0, sessionFrame: 600, frames: 1000 }]);
  });

  it('goes into a loop from before it, wraps at its very end, and never ends', () => {
    const plan = { startFrame: 5000, loop, endFrame: 48_000 };
    expect(streamLength(plan)).toBe(Number.POSITIVE_INFINITY);
    expect(sessionFrameAt(plan, 14_999)).toBe(19_999);
    expect(sessionFrameAt(plan, 15_000)).toBe(10_000);
    expect(sessionFrameAt(plan, 25_000)).toBe(10_000);
    expect(piecesOf(plan, 14_000, 12_000)).toEqual([
      { at: 0, sessionFrame: 19_000, frames: 1000 },
      { at: 1000, sessionFrame: 10_000, frames: 10_000 },
      { at: 11_000, sessionFrame: 10_000, frames: 1000 },
    ]);
  });

  it('leaves out a loop that lies behind the start or is shorter than 50 ms', () => {
    expect(streamLength({ startFrame: 20_000, loop, endFrame: 48_000 })).toBe(28_000);
    const short = { fromFrame: 10_000, toFrame: 10_100 };
    expect(streamLength({ startFrame: 0, loop: short, endFrame: 48_000 })).toBe(48_000);
  });
});

describe('Feeder', () => {
  it('brings every frame of every source once and in order, silence before the session, and marks the last', async () => {
    const chunks = await feed({ startFrame: 1000, loop: null, endFrame: 200_000 }, -12_000, 200_000);
    const queue = new ChunkQueue(-12_000);
    for (const chunk of chunks) queue.add(chunk);
    expect(queue.isWhole).toBe(true);
    expect(queue.endFrame).toBe(199_000);
    const target = new Float32Array(211_000);
    for (const [source, sign] of [1, -1].entries()) {
      queue.read(source, -12_000, target);
      for (let n = 0; n < target.length; n++) {
        if (target[n] !== Math.max(0, n - 11_000) * sign && n > 11_000) throw new Error(`frame ${n}: ${target[n]}`);
        if (n <= 11_000) expect(Math.abs(target[n]!)).toBe(0);
      }
    }
  });

  it('stays 3 s ahead and no more: at most 4 s of the stream come before any of it is used', async () => {
    const asked: [number, number][] = [];
    const feeder = new Feeder({
      epoch: 1,
      plan: { startFrame: 0, loop: null, endFrame: 48_000_000 },
      sourceCount: 2,
      firstFrame: -12_000,
      read: readRamp(asked),
      give: () => {},
      onTrouble: () => {},
    });
    for (let turns = 0; turns < 50; turns++) await new Promise((resolve) => setTimeout(resolve));
    const come = asked.reduce((most, [from, frames]) => Math.max(most, from + frames), 0);
    feeder.stop();
    expect(come).toBeGreaterThanOrEqual(144_000);
    expect(come).toBeLessThanOrEqual(192_000);
  });

  it('repeats a short loop from memory, blended over the last 3 ms into what lies before its start', async () => {
    const asked: [number, number][] = [];
    const loop = { fromFrame: 10_000, toFrame: 14_000 };
    const chunks = await feed({ startFrame: 10_000, loop, endFrame: 48_000 }, -12_000, 400_000, readRamp(asked));
    expect(asked.length).toBeLessThanOrEqual(2);
    const queue = new ChunkQueue(-12_000);
    for (const chunk of chunks) queue.add(chunk);
    const round = new Float32Array(4000);
    queue.read(0, 96 * 4000, round);
    for (let n = 0; n < 4000 - SEAM_FRAMES; n++) expect(round[n]).toBe(10_000 + n);
    // The last frame is nearly the one before the start: the wrap has no edge.
    expect(round[3999]).toBeCloseTo(9999 + 4000 / (SEAM_FRAMES + 1), 0);
  });

  it('tries again when reading fails, and tells after three times', async () => {
    let tries = 0;
    let told = 0;
    const chunks: Chunk[] = [];
    const feeder = new Feeder({
      epoch: 1,
      plan: { startFrame: 0, loop: null, endFrame: 4800 },
      sourceCount: 2,
      firstFrame: 0,
      read: async (from, frames) => {
        if (++tries <= 3) throw new Error('gone');
        return readRamp()(from, frames);
      },
      give: (chunk) => chunks.push(chunk),
      onTrouble: () => told++,
    });
    while (chunks.length === 0) await new Promise((resolve) => setTimeout(resolve, 50));
    feeder.stop();
    expect(tries).toBe(4);
    expect(told).toBe(1);
  });
});

describe('ChunkQueue', () => {
  const chunk = (streamFrame: number, frames: number, pieces: Chunk['pieces'], last = false): Chunk => ({
    kind: 'chunk',
    epoch: 1,
    streamFrame,
    frames,
    pieces,
    samples: Float32Array.from({ length: frames }, (_, n) => streamFrame + n),
    last,
  });

  it('reads across chunks, finds breaks of the session time, and gives used chunks back', () => {
    const queue = new ChunkQueue(0);
    queue.add(chunk(0, 100, [{ at: 0, sessionFrame: 1000 }]));
    queue.add(
      chunk(100, 100, [
        { at: 0, sessionFrame: 1100 },
        { at: 50, sessionFrame: 700 },
      ]),
    );
    const target = new Float32Array(20);
    queue.read(0, 90, target);
    expect(Array.from(target)).toEqual(Array.from({ length: 20 }, (_, n) => 90 + n));
    expect(queue.sessionFrame(149)).toBe(1149);
    expect(queue.sessionFrame(150)).toBe(700);
    expect(queue.evenFrames(90, 128)).toBe(60);
    expect(queue.evenFrames(0, 128)).toBe(128);
    expect(queue.streamFrameOf(705, 0)).toBe(155);
    expect(queue.streamFrameOf(2000, 0)).toBeUndefined();
    expect(queue.takeSpent(99)).toBeUndefined();
    expect(queue.takeSpent(100)?.streamFrame).toBe(0);
    expect(queue.sessionFrame(120)).toBe(1120);
  });

  it('refuses a chunk that does not follow the last', () => {
    const queue = new ChunkQueue(-10);
    queue.add(chunk(-10, 20, [{ at: 0, sessionFrame: 0 }]));
    expect(() => queue.add(chunk(11, 5, []))).toThrow(RangeError);
  });
});

describe('SoundClock', () => {
  const anchor = (epoch: number, streamFrame: number, contextFrame: number, moving: boolean): Anchor => ({
    kind: 'anchor',
    epoch,
    streamFrame,
    contextFrame,
    moving,
  });

  it('goes on evenly, stands where it stands, and does not run ahead of the ear when a stream takes over', () => {
    const clock = new SoundClock();
    expect(clock.at(0)).toBeUndefined();
    clock.add(anchor(1, 0, 1000, true));
    expect(clock.at(900)).toEqual({ epoch: 1, streamFrame: 0 });
    expect(clock.at(1480)).toEqual({ epoch: 1, streamFrame: 480 });
    clock.add(anchor(2, 50, 3000, true));
    expect(clock.at(2990)).toEqual({ epoch: 1, streamFrame: 1990 });
    expect(clock.at(3010)).toEqual({ epoch: 2, streamFrame: 60 });
    clock.add(anchor(2, 550, 3500, false));
    expect(clock.at(9000)).toEqual({ epoch: 2, streamFrame: 550 });
  });
});
