import { createReadStream } from 'node:fs';
import { stat } from 'node:fs/promises';
import { basename, extname } from 'node:path';
import type { LiveDesk } from '../../desk/live/live-desk.ts';
import { openLaid } from '../../work/laid-sound.ts';
import { type OpenSound, openSound } from '../../work/sound-file.ts';
import { WAVE_LEVEL_FRAMES } from '../contract/media.ts';
import type { DoorMedia } from '../door-host.ts';
import { askedSpectrogram, askedStretch, type StretchSource } from './media-query.ts';
import type { SpectrogramStore } from './spectrogram-store.ts';

const BYTES = 'application/octet-stream';
/** Frames read in one go; the thread does other things in between. */
const BLOCK_FRAMES = 16384;
const SAMPLE_BYTES = 4;

/** Kinds of files that are handed out as they are, by their endings. */
const TYPES: Readonly<Record<string, string>> = {
  '.3gp': 'video/3gpp',
  '.aac': 'audio/aac',
  '.flac': 'audio/flac',
  '.html': 'text/html; charset=utf-8',
  '.jpg': 'image/jpeg',
  '.json': 'application/json',
  '.m4a': 'audio/mp4',
  '.m4v': 'video/mp4',
  '.mkv': 'video/x-matroska',
  '.mov': 'video/quicktime',
  '.mp3': 'audio/mpeg',
  '.mp4': 'video/mp4',
  '.oga': 'audio/ogg',
  '.ogg': 'audio/ogg',
  '.opus': 'audio/ogg',
  '.wav': 'audio/wav',
  '.webm': 'video/webm',
};

/**
 * What lies behind a media route of a session, see contract/media.ts; null for a route that is none, for ids that are not
 * of the session, for values out of range, and for what is not there (yet). Nothing outside the session's own clips, caches
 * and newest render can be reached: routes name ids and known file names, never paths.
 */
export async function deskMedia(
  live: LiveDesk,
  spectrograms: SpectrogramStore,
  route: string,
): Promise<DoorMedia | null> {
  const mark = route.indexOf('?');
  const query = new URLSearchParams(mark < 0 ? '' : route.slice(mark + 1));
  const parts = (mark < 0 ? route : route.slice(0, mark)).split('/').map(decoded);
  if (parts.some((part) => part === undefined || part === '')) return null;
  const [kind, id = '', listen = '', level = ''] = parts as string[];
  switch (`${kind}/${parts.length}`) {
    case 'wave/4':
      return waveMedia(live, id, listen, level);
    case 'sound/3':
      return soundMedia(live, id, listen);
    case 'stretch/1':
      return stretchMedia(live, query);
    case 'spectrogram/3':
      return spectrogramMedia(live, spectrograms, id, listen, query);
    case 'pitch/2':
      return pitchMedia(live, id);
    case 'clip/2':
      return clipMedia(live, id);
    case 'proxy/2':
      return ownFileMedia(live.sounds.proxyOf(id));
    case 'picture/2':
      return ownFileMedia(live.videos.fileOf(id));
    case 'guide/2':
      return ownFileMedia(live.guides.fileOf(id));
    case 'heard-guide/1':
      return ownFileMedia(live.guides.heardFile);
    case 'trial/2':
      return ownFileMedia(live.trials.fileOf(id));
    case 'render/2':
      return renderMedia(live, id);
    default:
      return null;
  }
}

function decoded(part: string): string | undefined {
  try {
    return decodeURIComponent(part);
  } catch {
    return undefined;
  }
}

function waveMedia(live: LiveDesk, id: string, listen: string, level: string): DoorMedia | null {
  if ((listen !== 'before' && listen !== 'after') || !/^\d$/.test(level)) return null;
  const wave = live.sounds.waveOf(id, listen);
  const at = Number(level);
  if (wave === undefined || at >= WAVE_LEVEL_FRAMES.length) return null;
  const pairBytes = 4;
  const start = wave.pairs.slice(0, at).reduce((sum, pairs) => sum + pairs * pairBytes, 0);
  return fileMedia(wave.path, BYTES, start, wave.pairs[at]! * pairBytes);
}

function soundMedia(live: LiveDesk, id: string, listen: string): DoorMedia | null {
  if (listen !== 'before' && listen !== 'after') return null;
  const sound = live.sounds.soundOf(id, listen);
  if (sound === undefined) return null;
  const totalBytes = sound.lengthFrames * SAMPLE_BYTES;
  if (sound.soundPath.endsWith('.f32')) return fileMedia(sound.soundPath, BYTES, 0, totalBytes);
  return samplesMedia(sound.lengthFrames, 1, () => {
    const open = openSound(sound.soundPath, sound.rateHz);
    return { read: (_, frame, target) => open.read(frame, target), close: () => open.close() };
  });
}

function stretchMedia(live: LiveDesk, query: URLSearchParams): DoorMedia | null {
  const asked = askedStretch(query);
  if (asked === null) return null;
  if (asked.sources.some(({ id }) => !live.sounds.has(id))) return null;
  return samplesMedia(asked.frames, asked.sources.length, () => {
    const open: (OpenSound | undefined)[] = [];
    const opened = (at: number): OpenSound | undefined => {
      if (!(at in open)) open[at] = openSource(live, asked.sources[at]!);
      return open[at];
    };
    return {
      read(at, frame, target) {
        const sound = opened(at);
        if (sound === undefined) target.fill(0);
        else sound.read(asked.from + frame, target);
      },
      close() {
        for (const sound of open) sound?.close();
      },
    };
  });
}

/** A source on the session's time line; undefined, which is heard as silence, where it is not there yet. */
function openSource(live: LiveDesk, { id, listen }: StretchSource): OpenSound | undefined {
  if (listen !== 'takenAway') {
    const sound = live.sounds.laidOf(id, listen);
    return sound === undefined ? undefined : openLaid(sound);
  }
  const before = live.sounds.laidOf(id, 'before');
  // Mending moves waves, so that their difference would tell nothing.
  const after = live.sounds.laidOf(id, 'cleaned');
  if (before === undefined || after === undefined) return undefined;
  const whole = openLaid(before);
  let kept: OpenSound;
  try {
    kept = openLaid(after);
  } catch (error) {
    whole.close();
    throw error;
  }
  let other = new Float32Array(0);
  return {
    rateHz: whole.rateHz,
    lengthFrames: whole.lengthFrames,
    read(frame, target) {
      if (other.length !== target.length) other = new Float32Array(target.length);
      whole.read(frame, target);
      kept.read(frame, other);
      for (let n = 0; n < target.length; n++) target[n]! -= other[n]!;
    },
    close() {
      whole.close();
      kept.close();
    },
  };
}

async function spectrogramMedia(
  live: LiveDesk,
  store: SpectrogramStore,
  id: string,
  listen: string,
  query: URLSearchParams,
): Promise<DoorMedia | null> {
  const plan = askedSpectrogram(query);
  if (plan === null || (listen !== 'before' && listen !== 'after' && listen !== 'takenAway')) return null;
  const before = live.sounds.soundOf(id, 'before');
  const after = live.sounds.soundOf(id, listen === 'takenAway' ? 'cleaned' : 'after');
  const sound = listen === 'after' ? after : before;
  if (sound === undefined || (listen === 'takenAway' && after === undefined)) return null;
  const { soundPath, rateHz } = sound;
  const lessPath = listen === 'takenAway' ? after!.soundPath : null;
  const bytes = await store.get(live.desk.pool, { ...plan, soundPath, lessPath, rateHz });
  return bytesMedia(bytes);
}

function pitchMedia(live: LiveDesk, voiceId: string): DoorMedia | null {
  const curve = live.pitch.curveOf(voiceId);
  return curve === undefined ? null : fileMedia(curve.path, BYTES, curve.start, curve.bytes);
}

async function ownFileMedia(file: string | undefined): Promise<DoorMedia | null> {
  return file === undefined ? null : wholeFileMedia(file);
}

async function clipMedia(live: LiveDesk, id: string): Promise<DoorMedia | null> {
  const file = live.sounds.clipOf(id);
  return file === undefined ? null : wholeFileMedia(file);
}

async function renderMedia(live: LiveDesk, name: string): Promise<DoorMedia | null> {
  const file = live.view().render?.files.find(({ path }) => basename(path) === name);
  return file === undefined ? null : wholeFileMedia(file.path);
}

async function wholeFileMedia(path: string): Promise<DoorMedia | null> {
  const facts = await stat(path).catch(() => undefined);
  if (facts === undefined || !facts.isFile()) return null;
  return fileMedia(path, TYPES[extname(path).toLowerCase()] ?? BYTES, 0, facts.size);
}

/** A part of a file. */
function fileMedia(path: string, type: string, start: number, totalBytes: number): DoorMedia {
  return {
    type,
    totalBytes,
    async *read(fromByte, toByte, stop) {
      if (toByte <= fromByte || stop.aborted) return;
      const stream = createReadStream(path, {
        start: start + fromByte,
        end: start + toByte - 1,
        highWaterMark: 1 << 18,
      });
      try {
        for await (const piece of stream) {
          if (stop.aborted) return;
          yield piece as Uint8Array;
        }
      } finally {
        stream.destroy();
      }
    },
  };
}

function bytesMedia(bytes: Uint8Array): DoorMedia {
  return {
    type: BYTES,
    totalBytes: bytes.length,
    async *read(fromByte, toByte) {
      yield bytes.subarray(fromByte, toByte);
    },
  };
}

/** Planes of samples that can be read anywhere. */
interface PlaneReader {
  read(plane: number, frame: number, target: Float32Array): void;
  close(): void;
}

/** Planes of float samples, one after the other, read while they are sent. */
function samplesMedia(frames: number, planes: number, open: () => PlaneReader): DoorMedia {
  return {
    type: BYTES,
    totalBytes: frames * planes * SAMPLE_BYTES,
    async *read(fromByte, toByte, stop) {
      const reader = open();
      try {
        let at = fromByte;
        while (at < toByte && !stop.aborted) {
          const plane = Math.floor(at / SAMPLE_BYTES / frames);
          const frame = Math.floor(at / SAMPLE_BYTES) - plane * frames;
          const count = Math.min(BLOCK_FRAMES, frames - frame, Math.ceil((toByte - at) / SAMPLE_BYTES) + 1);
          const samples = new Float32Array(count);
          reader.read(plane, frame, samples);
          const skip = at % SAMPLE_BYTES;
          const bytes = new Uint8Array(samples.buffer, skip, Math.min(count * SAMPLE_BYTES - skip, toByte - at));
          at += bytes.length;
          yield bytes;
          await new Promise<void>((resume) => setImmediate(resume));
        }
      } finally {
        reader.close();
      }
    },
  };
}
