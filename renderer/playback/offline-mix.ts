import { SESSION_RATE_HZ } from '../../core/signal/time.ts';
import type { ReadStretch } from './feeder.ts';
import type { Chunk, FromSound, NewStream } from './messages.ts';
import type { MixPlan } from './mix-plan.ts';
import { mixNode } from './sound-output.ts';
import { piecesOf } from './stream-plan.ts';

/** Sound before the stretch that warms up filters and limiter: 1.5 s, fifteen times the limiter's release. */
const PREROLL_FRAMES = 72_000;
/** Running through it unheard takes some quanta of the sound clock. */
const SLACK_FRAMES = 16_384;
const CHUNK_FRAMES = 48_000;
/** Sound after the stretch, for the limiter to look ahead into. */
const AFTER_FRAMES = 1024;

/**
 * Runs the sound thread's own code without a sound device, as fast as it goes, over session frames [fromFrame, toFrame) of a
 * plan. Out: left and right, toFrame - fromFrame frames, as the headphones would get them at 0 dB. Holds all of it, and all
 * sources, in memory: for a minute or so.
 */
export async function runOffline(
  mix: Pick<MixPlan, 'sources' | 'voices' | 'span' | 'ceilingDbtp' | 'endFrame' | 'settings'>,
  read: ReadStretch,
  fromFrame: number,
  toFrame: number,
): Promise<[Float32Array, Float32Array]> {
  const frames = toFrame - fromFrame;
  const context = new OfflineAudioContext(2, frames + SLACK_FRAMES, SESSION_RATE_HZ);
  const node = await mixNode(context);
  node.connect(context.destination);
  const { voices, span, ceilingDbtp, settings } = mix;
  const stream: NewStream = {
    kind: 'stream',
    epoch: 1,
    takeOver: 'cut',
    fadeIn: false,
    firstFrame: -PREROLL_FRAMES,
    voices,
    span,
    ceilingDbtp,
    settings,
  };
  const waiting = new Map<string, (message: FromSound) => void>();
  const heard = (kind: string): Promise<FromSound> => new Promise((resolve) => waiting.set(kind, resolve));
  node.port.onmessage = ({ data }: MessageEvent<FromSound>) => {
    waiting.get(data.kind === 'anchor' && !data.moving ? 'standing' : data.kind)?.(data);
  };
  node.port.postMessage(stream);
  const end = Math.max(frames, Math.min(frames + AFTER_FRAMES, mix.endFrame - fromFrame));
  for (let at = -PREROLL_FRAMES; at < end; at += CHUNK_FRAMES) {
    const chunk = await chunkOf(mix, read, fromFrame, at, Math.min(CHUNK_FRAMES, end - at), end);
    node.port.postMessage(chunk, [chunk.samples.buffer]);
  }
  node.port.postMessage({ kind: 'run', running: true });
  const allTaken = heard('echo');
  node.port.postMessage({ kind: 'echo' });
  await allTaken;
  const began = heard('anchor');
  const sound = await context.startRendering();
  const anchor = await began;
  const from = anchor.kind === 'anchor' ? anchor.contextFrame : 0;
  return [sound.getChannelData(0).slice(from, from + frames), sound.getChannelData(1).slice(from, from + frames)];
}

async function chunkOf(
  mix: Pick<MixPlan, 'sources' | 'endFrame'>,
  read: ReadStretch,
  startFrame: number,
  at: number,
  frames: number,
  end: number,
): Promise<Chunk> {
  const plan = { startFrame, loop: null, endFrame: mix.endFrame };
  const count = mix.sources.length;
  const missing = Math.min(frames, Math.max(0, -(startFrame + at)));
  const samples = new Float32Array(count * frames);
  if (missing < frames) {
    const part = await read(startFrame + at + missing, frames - missing, new AbortController().signal);
    for (let source = 0; source < count; source++) {
      const from = source * (frames - missing);
      samples.set(part.subarray(from, from + frames - missing), source * frames + missing);
    }
  }
  return {
    kind: 'chunk',
    epoch: 1,
    streamFrame: at,
    frames,
    pieces: piecesOf(plan, at, frames).map((piece) => ({ at: piece.at, sessionFrame: piece.sessionFrame })),
    samples,
    last: at + frames >= end,
  };
}
