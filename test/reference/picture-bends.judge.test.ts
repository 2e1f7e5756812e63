import { afterAll, beforeAll, expect, it } from 'vitest';
import { type Ffmpeg, searchFfmpeg, useFfmpeg } from '../../app/media/ffmpeg.ts';
import { filtersOfFfmpeg } from '../../app/picture/abilities.ts';
import { clipPictureOf } from '../../app/picture/clip-picture-facts.ts';
import { renderPicture } from '../../app/picture/render-picture.ts';
import { pictureClock } from '../../core/picture/picture-clock.ts';
import { usualDesign } from '../../core/picture/picture-design.ts';
import type { VoicePicture } from '../../core/picture/picture-plan.ts';
import { planPicture } from '../../core/picture/plan-picture.ts';
import { type Clock, sessionSecOf } from '../../core/signal/clock.ts';
import { PlacedSound } from '../../core/signal/placed-sound.ts';
import { Random } from '../../core/signal/random.ts';
import { soundOf } from '../../core/signal/sound.ts';
import { decodeWhole, make, makeFolder, writeWave } from '../app/media/clip-kit.ts';
import { restampSound } from '../app/media/stamp-edits.ts';
import { flashesIn } from '../app/picture/flash-clips.ts';
import { debianFfmpeg } from '../outside-judges.ts';

/**
 * CV-5.4: ITU-R BT.1359-1, detectability +45 / -125 ms. Sound and picture of a clip whose clock bends twice and lost 20 ms,
 * both by the one placement, and of clips whose two streams disagree: each flash must come with its clap, and at its place. PARTSONG_SYNC_SEC measures longer clips.
 */
const LENGTH_SEC = Number(process.env['PARTSONG_SYNC_SEC'] ?? 24);
const CANVAS = { widthPx: 426, heightPx: 240 };
const RATE_HZ = 48_000;
const RATE = 30;
/** Moments at which the clips flash and clap, whole pictures of their own. */
const STROKES_SEC = Array.from(
  { length: Math.min(24, Math.floor(LENGTH_SEC / 2)) },
  (_, n) => Math.round((0.7 + (n * (LENGTH_SEC - 2)) / (Math.min(24, Math.floor(LENGTH_SEC / 2)) - 1)) * RATE) / RATE,
);

interface Laid {
  readonly name: string;
  readonly place: Clock;
  /** Where the sound of a moment of the picture lies in the sound, where that is elsewhere, s. */
  readonly soundSec?: (pictureSec: number) => number;
  readonly packetTicks?: number;
  readonly soundShorterSec?: number;
}

/** Packets of 1024 frames that are stamped as 1025. */
const FAST = 1025 / 1024;
const LOST_SEC = 0.3;
const LOST_AT_SEC = LENGTH_SEC * 0.45;

const PLACES: readonly Laid[] = [
  {
    name: 'bends twice and lost 20 ms of its sound',
    soundSec: (pictureSec) => (pictureSec < LENGTH_SEC * 0.55 ? pictureSec : pictureSec - 0.02),
    soundShorterSec: 0.02,
    place: {
      offsetSec: 0.4021,
      driftPpm: 60,
      bends: [
        { takeSec: LENGTH_SEC * 0.3, jumpSec: 0, driftPpm: -45 },
        { takeSec: LENGTH_SEC * 0.55, jumpSec: 0.02, driftPpm: -45 },
        { takeSec: LENGTH_SEC * 0.8, jumpSec: 0, driftPpm: 80 },
      ],
    },
  },
  {
    // Cut out of both its streams, as they end together.
    name: 'lost 300 ms and has 150 ms twice',
    place: {
      offsetSec: -0.1513,
      driftPpm: -100,
      bends: [
        { takeSec: LENGTH_SEC * 0.36, jumpSec: 0.3, driftPpm: -100 },
        { takeSec: LENGTH_SEC * 0.7, jumpSec: -0.15, driftPpm: -100 },
      ],
    },
  },
  { name: 'runs 40 ppm fast', place: { offsetSec: 0.2507, driftPpm: 40 } },
  {
    name: 'is stamped 977 ppm fast',
    place: { offsetSec: 0.3301, driftPpm: 25 },
    soundSec: (pictureSec) => pictureSec / FAST,
    packetTicks: 1025,
  },
  {
    name: 'lost 300 ms of its sound alone',
    place: { offsetSec: 0.7777, driftPpm: 0, bends: [{ takeSec: LOST_AT_SEC, jumpSec: LOST_SEC, driftPpm: 0 }] },
    soundSec: (pictureSec) => (pictureSec < LOST_AT_SEC ? pictureSec : pictureSec - LOST_SEC),
    soundShorterSec: LOST_SEC,
  },
];

/** When the sound of a stroke of a clip is in its sound, s. */
function strokeIn({ soundSec }: Laid, stroke: number): number {
  return soundSec?.(stroke) ?? stroke;
}

const folder = makeFolder();
const heard: number[][] = [];
const voices: VoicePicture[] = [];
const mix = new Float32Array(Math.ceil((LENGTH_SEC + 2) * RATE_HZ));
let ffmpeg: Ffmpeg;

/** A burst that sounds like no other, so that it can be found by its own shape. */
function burst(random: Random): Float32Array {
  return Float32Array.from({ length: 960 }, (_, n) => 0.4 * Math.exp(-n / 300) * random.gaussian());
}

function makeClip(laid: Laid, bursts: readonly Float32Array[]): string {
  const { name } = laid;
  const sound = new Float32Array(Math.round((LENGTH_SEC - (laid.soundShorterSec ?? 0)) * RATE_HZ));
  for (const [n, stroke] of STROKES_SEC.entries()) sound.set(bursts[n]!, Math.round(strokeIn(laid, stroke) * RATE_HZ));
  writeWave(`${folder.path}/${name}.wav`, [sound], RATE_HZ);
  const lit = STROKES_SEC.map((sec) => `between(t,${(sec - 0.002).toFixed(5)},${(sec + 0.098).toFixed(5)})`).join('+');
  const picture = `color=c=0x101010:s=96x54:r=${RATE}:d=${LENGTH_SEC},drawbox=x=0:y=0:w=iw:h=ih:t=fill:color=white:enable='${lit}'`;
  const codecs = [
    '-c:v',
    'libx264',
    '-preset',
    'ultrafast',
    '-pix_fmt',
    'yuv420p',
    '-bf',
    '2',
    '-c:a',
    'aac',
    '-b:a',
    '96k',
  ];
  make(ffmpeg, ['-f', 'lavfi', '-i', picture, '-i', `${name}.wav`, ...codecs, `${name}.mov`], folder.path);
  const path = `${folder.path}/${name}.mov`;
  if (laid.packetTicks !== undefined) restampSound(path, (packets) => [[packets, laid.packetTicks!]]);
  return path;
}

/** When a burst sounds, near a moment, s. */
function whenHeard(samples: Float32Array, shape: Float32Array, nearSec: number): number {
  const at = Math.round(nearSec * RATE_HZ);
  let best = { frame: at, likeness: Number.NEGATIVE_INFINITY };
  for (let frame = at - 4800; frame <= at + 4800; frame++) {
    let likeness = 0;
    for (let n = 0; n < shape.length; n++) likeness += (samples[frame + n] ?? 0) * shape[n]!;
    if (likeness > best.likeness) best = { frame, likeness };
  }
  return best.frame / RATE_HZ;
}

const shapes: Float32Array[][] = [];

beforeAll(async () => {
  ffmpeg = (await searchFfmpeg({ PARTSONG_FFMPEG: debianFfmpeg })).found!;
  useFfmpeg(ffmpeg);
  const random = new Random(17);
  for (const [index, laid] of PLACES.entries()) {
    const { name, place } = laid;
    const bursts = STROKES_SEC.map(() => burst(random));
    shapes.push(bursts);
    const { facts, channels } = await decodeWhole(makeClip(laid, bursts));
    const placed = new PlacedSound(soundOf(channels[0]!, RATE_HZ), { ...place, sessionRateHz: RATE_HZ });
    const stem = new Float32Array(mix.length);
    placed.read(0, stem);
    for (const [n, value] of stem.entries()) mix[n]! += value;
    const picture = clipPictureOf(facts);
    const pieces = [{ picture, place: pictureClock(place, picture), fromSec: -1e9, toSec: 1e9 }];
    voices.push({ voiceId: String(index), name, isLead: false, colour: index, pieces, peaks: [] });
  }
  writeWave(`${folder.path}/mix.wav`, [mix, mix], RATE_HZ);
}, 600_000);

afterAll(() => {
  useFfmpeg(undefined);
  folder.remove();
});

it(`flashes and claps of clips of ${LENGTH_SEC} s whose clocks bend and jump, or whose streams disagree, lie within 10 ms of one another and of their places`, async () => {
  const plan = planPicture({
    design: usualDesign(CANVAS),
    voices,
    span: { fromSec: 0.3, toSec: LENGTH_SEC + 1 },
    sound: { file: `${folder.path}/mix.wav`, rateHz: RATE_HZ, startSec: 0, gainDb: 0 },
    filters: await filtersOfFfmpeg(),
  });
  const target = `${folder.path}/made.mp4`;
  await renderPicture(plan, target, {
    output: { container: 'mp4', encoder: 'x264', speed: 'quick', title: '' },
    signal: new AbortController().signal,
    onProgress: () => undefined,
  });
  const { channels } = await decodeWhole(target);
  const boxes = plan.tiles.map(({ box }) => box);
  const seen = flashesIn(target, CANVAS, boxes);
  for (const [index, laid] of PLACES.entries()) {
    const { name, place } = laid;
    let [worstMs, worstPlaceMs] = [0, 0];
    heard.push([]);
    for (const [n, stroke] of STROKES_SEC.entries()) {
      const wanted = sessionSecOf(place, strokeIn(laid, stroke)) - plan.fromSec;
      if (wanted < 0) continue;
      const clap = whenHeard(channels[0]!, shapes[index]![n]!, wanted);
      heard[index]!.push(clap);
      const flash = seen[index]!.toSorted((one, other) => Math.abs(one - clap) - Math.abs(other - clap))[0]!;
      worstMs = Math.max(worstMs, Math.abs(1000 * (flash - clap)));
      worstPlaceMs = Math.max(worstPlaceMs, Math.abs(1000 * (clap - wanted)));
    }
    console.info(
      `${name}: picture and sound at most ${worstMs.toFixed(1)} ms apart, sound at most ${worstPlaceMs.toFixed(2)} ms off its place, ${heard[index]!.length} strokes, ${seen[index]!.length} flashes`,
    );
    expect(seen[index]!.length, name).toBe(heard[index]!.length);
    expect(worstMs, name).toBeLessThan(10);
    // A sample of the search and one of the encoder.
    expect(worstPlaceMs, name).toBeLessThan(0.05);
  }
}, 900_000);
