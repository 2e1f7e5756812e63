import { WAVE_LEVEL_FRAMES } from '../../app/shell/contract/media.ts';
import { RealFft } from '../../core/signal/fft.ts';
import { makeWindow } from '../../core/signal/window.ts';

const RATE_HZ = 48000;

/**
 * Sample `frame` of the invented take `n` (0, 1, ...): 4 s of room, a clap at 5 s, then slow notes a third apart; the takes
 * of one session begin one after another, so that what they hold comes that much earlier.
 */
export function standInSample(n: number, frame: number, clean: boolean): number {
  const sec = frame / RATE_HZ + (n % 4) * 0.35;
  // A hash of the frame as noise: any frame can be asked for.
  const hash = Math.imul(frame ^ (n * 7919), 2654435761) >>> 0;
  const noise = clean ? 0 : 0.008 * (hash / 2 ** 31 - 1);
  if (sec < 5) return noise;
  if (sec < 5.03) return noise + 0.7 * (hash / 2 ** 31 - 1) * Math.exp((5 - sec) * 150);
  if (sec < 8) return noise;
  const note = Math.floor((sec - 8) / 0.75);
  const inNote = (sec - 8) % 0.75;
  const steps = [0, 4, 7, 5, 4, 2, 0, 7];
  const hz = 220 * 2 ** ((steps[(note + n) % 8]! + 3 * n) / 12);
  const shape = Math.min(1, inNote / 0.03) * Math.exp(-1.5 * inNote) * (note % 8 === 7 ? 0 : 1);
  return noise + 0.35 * shape * (Math.sin(2 * Math.PI * hz * sec) + 0.3 * Math.sin(4 * Math.PI * hz * sec));
}

const waves = new Map<string, Uint8Array>();

/** Bytes `from` to `to` (inclusive; null: its end) of a take's samples; a whole long take takes seconds to invent. */
export function standInSound(
  url: URL,
  from: number,
  to: number | null,
): { bytes: Uint8Array; all: number } | undefined {
  const parts = url.pathname.split('/').slice(2).map(decodeURIComponent);
  if (parts[0] !== 'sound') return undefined;
  const take = Math.max(0, Number(/\d+/.exec(parts[1] ?? '')?.[0] ?? 1) - 1);
  const all = Number(url.searchParams.get('length') ?? 60) * RATE_HZ * 4;
  const first = from >> 2;
  const last = Math.min(all, (to ?? all - 1) + 1) >> 2;
  const samples = new Float32Array(Math.max(0, last - first));
  for (let n = 0; n < samples.length; n++) samples[n] = standInSample(take, first + n, parts[2] === 'after');
  return { bytes: new Uint8Array(samples.buffer), all };
}

/** Bytes of a media route of the invented session; undefined for one that is not served. */
export function standInMedia(url: URL): Uint8Array | undefined {
  const parts = url.pathname.split('/').slice(2).map(decodeURIComponent);
  const lengthSec = Number(url.searchParams.get('length') ?? 60);
  const take = Math.max(0, Number(/\d+/.exec(parts[1] ?? '')?.[0] ?? 1) - 1);
  const clean = parts[2] === 'after';
  switch (parts[0]) {
    case 'wave': {
      const known = waves.get(url.href);
      if (known !== undefined) return known;
      const made = wave(take, clean, WAVE_LEVEL_FRAMES[Number(parts[3]) as 0 | 1 | 2], lengthSec);
      waves.set(url.href, made);
      return made;
    }
    case 'sound': {
      const samples = new Float32Array(lengthSec * RATE_HZ);
      for (let n = 0; n < samples.length; n++) samples[n] = standInSample(take, n, clean);
      return new Uint8Array(samples.buffer);
    }
    case 'stretch?':
    case 'stretch':
      return stretch(url);
    case 'spectrogram': {
      const known = waves.get(url.href);
      if (known !== undefined) return known;
      const made = spectrogram(url, take, parts[2] ?? 'before');
      waves.set(url.href, made);
      return made;
    }
    default:
      return undefined;
  }
}

function wave(take: number, clean: boolean, frames: number, lengthSec: number): Uint8Array {
  const count = Math.ceil((lengthSec * RATE_HZ) / frames);
  const pairs = new Int16Array(2 * count);
  for (let at = 0; at < count; at++) {
    let low = 0;
    let high = 0;
    for (let n = 0; n < frames; n += Math.max(1, frames >> 5)) {
      const value = standInSample(take, at * frames + n, clean);
      low = Math.min(low, value);
      high = Math.max(high, value);
    }
    pairs[2 * at] = 32767 * low;
    pairs[2 * at + 1] = 32767 * high;
  }
  return new Uint8Array(pairs.buffer);
}

function stretch(url: URL): Uint8Array {
  const from = Number(url.searchParams.get('from'));
  const frames = Number(url.searchParams.get('frames'));
  const sources = (url.searchParams.get('sources') ?? '').split(',');
  const samples = new Float32Array(frames * sources.length);
  sources.forEach((source, at) => {
    const [id, listen] = source.split(':');
    const take = Number(/\d+/.exec(id ?? '')?.[0] ?? 1) - 1;
    for (let n = 0; n < frames; n++) {
      const before = standInSample(take, from + n, false);
      const after = standInSample(take, from + n, true);
      samples[at * frames + n] = listen === 'before' ? before : listen === 'after' ? after : before - after;
    }
  });
  return new Uint8Array(samples.buffer);
}

/** Column after column of an invented take's spectrum, as the desk gives it; nothing for what was taken away. */
function spectrogram(url: URL, take: number, listen: string): Uint8Array {
  const number = (name: string): number => Number(url.searchParams.get(name));
  const columns = number('columns');
  const rows = number('rows');
  const size = 2048;
  const fft = new RealFft(size);
  const window = makeWindow('hann', size);
  const input = new Float64Array(size);
  const re = new Float64Array(fft.bins);
  const im = new Float64Array(fft.bins);
  const bytes = new Uint8Array(columns * rows);
  for (let column = 0; column < columns; column++) {
    const sec = number('from') + ((column + 0.5) / columns) * (number('to') - number('from'));
    const first = Math.round(sec * RATE_HZ) - size / 2;
    for (let n = 0; n < size; n++) {
      const wanted = listen === 'takenAway' ? 0 : standInSample(take, first + n, listen === 'after');
      input[n] = window[n]! * wanted;
    }
    fft.forward(input, re, im);
    for (let row = 0; row < rows; row++) {
      const bin = (hz: number): number => Math.min(fft.bins - 1, Math.floor((hz * size) / RATE_HZ));
      let most = 0;
      for (let k = bin(40 * 500 ** (row / rows)); k <= bin(40 * 500 ** ((row + 1) / rows)); k++) {
        most = Math.max(most, re[k]! ** 2 + im[k]! ** 2);
      }
      const db = 10 * Math.log10(most / (size / 4) ** 2 + 1e-12);
      bytes[column * rows + row] = Math.max(0, Math.min(255, Math.round((255 * (db + 120)) / 120)));
    }
  }
  return bytes;
}
