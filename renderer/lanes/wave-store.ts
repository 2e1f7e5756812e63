import { PartCache } from './part-cache.ts';
import type { Detail } from './wave-columns.ts';

/** Same as WAVE_LEVEL_FRAMES of the contract, whose types alone a page may import. */
const LEVEL_FRAMES = [256, 4096, 65536] as const;
/** Pairs in a part of the finest level (87 s of sound, 64 KiB); coarser levels come whole. */
const LEVEL_PART_PAIRS = 16384;
/** Samples in a part of single samples (0.68 s, 64 KiB held). */
const SOUND_PART = 32768;
/** Between samples and level 0 lie more steps, made here from samples that came. */
const FINE_FRAMES = 16;
const MOST_AT_ONCE = 4;
const TRY_AGAIN_MS = 4000;
const MOST_BYTES = 64 * 2 ** 20;

export type WaveSide = 'before' | 'after';

/** A waveform that can be fetched. `stamp` changes when its content does. */
export interface WaveSource {
  readonly takeId: string;
  readonly side: WaveSide;
  readonly stamp: string;
  readonly lengthFrames: number;
}

interface Wish {
  readonly url: string;
  readonly fromByte: number;
  /** null: all of it. */
  readonly bytes: number | null;
  readonly keep: (bytes: ArrayBuffer) => void;
  /** False once the waveform has changed: what comes then is of the old one. */
  readonly isWanted: () => boolean;
}

/**
 * Waveforms from the desk: coarse levels first, parts of the fine ones as they come into view, up to 64 MiB kept. What
 * is drawn asks for details; details that are not there are wished for and fetched, and `onCame` asks to draw again.
 */
export class WaveStore {
  private readonly cache = new PartCache(MOST_BYTES);
  private wishes = new Map<string, Wish>();
  private readonly running = new Set<string>();
  private readonly failedAt = new Map<string, number>();
  private readonly stamps = new Map<string, string>();
  private readonly urlOf: (route: string) => string;
  private readonly onCame: () => void;
  private ended = false;

  constructor(urlOf: (route: string) => string, onCame: () => void) {
    this.urlOf = urlOf;
    this.onCame = onCame;
  }

  get heldBytes(): number {
    return this.cache.heldBytes;
  }

  /** Nothing is on its way or wished for. */
  get idle(): boolean {
    return this.running.size === 0 && this.wishes.size === 0;
  }

  /** Before a drawing: wishes of the drawing before that are not on their way are forgotten. */
  beginDrawing(): void {
    this.wishes = new Map();
  }

  /** After a drawing: what it wished for is fetched, in the order of the wishes. */
  endDrawing(): void {
    this.pump();
  }

  end(): void {
    this.ended = true;
    this.wishes.clear();
  }

  /** Details for a zoom, best first; `framesPerColumn` in the take's frames. */
  detailsFor(source: WaveSource, framesPerColumn: number): Detail[] {
    this.checkStamp(source);
    const details: Detail[] = [];
    if (framesPerColumn < LEVEL_FRAMES[0]) {
      if (framesPerColumn >= 4 * FINE_FRAMES) details.push(this.sound(source, 64));
      else details.push(this.sound(source, framesPerColumn >= FINE_FRAMES ? FINE_FRAMES : 1));
    }
    // The coarsest levels are small: wishing for them first means something is drawn at once.
    const coarse = ([2, 1] as const).map((level) => this.level(source, level, 1));
    const level = framesPerColumn >= LEVEL_FRAMES[2] ? 2 : framesPerColumn >= LEVEL_FRAMES[1] ? 1 : 0;
    for (const one of coarse) one.part(0);
    if (level < 2 && framesPerColumn >= 4 * LEVEL_FRAMES[level]) details.push(this.level(source, level, 4));
    else if (level === 0) details.push(this.level(source, 0, 1));
    for (const at of [1, 2] as const) if (at >= level) details.push(coarse[2 - at]!);
    return details;
  }

  private checkStamp(source: WaveSource): void {
    const name = `${source.takeId}/${source.side}`;
    const held = this.stamps.get(name);
    if (held === source.stamp) return;
    this.stamps.set(name, source.stamp);
    if (held !== undefined) this.cache.forget(`${name}/`);
  }

  /**
   * A level of the desk, or one made of four of its pairs each (`step` 4): a column then reads at most 4 pairs, not 16.
   * The made one is kept beside the parts it was made of.
   */
  private level(source: WaveSource, level: 0 | 1 | 2, step: 1 | 4): Detail {
    const frames = LEVEL_FRAMES[level];
    const items = Math.ceil(source.lengthFrames / frames);
    const partItems = level === 0 ? LEVEL_PART_PAIRS : 4 * Math.max(1, Math.ceil(items / 4));
    const name = `${source.takeId}/${source.side}/${level}`;
    return {
      frames: frames * step,
      items: Math.ceil(items / step),
      partItems: partItems / step,
      part: remembered((n) => {
        const held = this.cache.get(`${name}/${n}/${step}`);
        if (held !== undefined) return held;
        const count = Math.min(partItems, items - n * partItems);
        if (count <= 0 || n < 0) return undefined;
        this.wish(`${name}/${n}`, source, {
          url: this.route('wave', source, `/${level}`),
          fromByte: 4 * n * partItems,
          bytes: level === 0 ? 4 * count : null,
          keep: (bytes) => {
            const pairs = whole(new Int16Array(bytes, 0, bytes.byteLength >> 1), 2 * count);
            this.cache.set(`${name}/${n}/1`, pairs);
            if (level < 2) this.cache.set(`${name}/${n}/4`, fourths(pairs));
          },
        });
        return undefined;
      }),
    };
  }

  /** Single samples, or pairs made of 16 or 64 of them. */
  private sound(source: WaveSource, frames: 1 | 16 | 64): Detail {
    const name = `${source.takeId}/${source.side}/sound`;
    const part = remembered((n) => {
      const held = this.cache.get(`${name}/${n}/${frames}`);
      if (held !== undefined) return held;
      const count = Math.min(SOUND_PART, source.lengthFrames - n * SOUND_PART);
      if (count <= 0 || n < 0) return undefined;
      this.wish(`${name}/${n}`, source, {
        url: this.route('sound', source, ''),
        fromByte: 4 * n * SOUND_PART,
        bytes: 4 * count,
        keep: (bytes) => {
          const samples = whole(toInt16(new Float32Array(bytes, 0, bytes.byteLength >> 2)), count);
          const pairs = pairsOf(samples, FINE_FRAMES);
          this.cache.set(`${name}/${n}/1`, samples);
          this.cache.set(`${name}/${n}/16`, pairs);
          this.cache.set(`${name}/${n}/64`, fourths(pairs));
        },
      });
      return undefined;
    });
    return { frames, items: Math.ceil(source.lengthFrames / frames), partItems: SOUND_PART / frames, part };
  }

  private route(kind: 'wave' | 'sound', source: WaveSource, rest: string): string {
    return this.urlOf(`${kind}/${encodeURIComponent(source.takeId)}/${source.side}${rest}`);
  }

  private wish(key: string, source: WaveSource, wish: Omit<Wish, 'isWanted'>): void {
    if (this.running.has(key) || this.wishes.has(key)) return;
    const failed = this.failedAt.get(key);
    if (failed !== undefined && performance.now() - failed < TRY_AGAIN_MS) return;
    const name = `${source.takeId}/${source.side}`;
    this.wishes.set(key, { ...wish, isWanted: () => this.stamps.get(name) === source.stamp });
  }

  private pump(): void {
    for (const [key, wish] of this.wishes) {
      if (this.running.size >= MOST_AT_ONCE || this.ended) return;
      this.wishes.delete(key);
      this.running.add(key);
      this.bring(wish).then(
        () => this.came(key, false),
        () => this.came(key, true),
      );
    }
  }

  private came(key: string, failed: boolean): void {
    this.running.delete(key);
    if (failed) this.failedAt.set(key, performance.now());
    else this.failedAt.delete(key);
    if (this.ended) return;
    // A failure is tried again after a while, when something is drawn then.
    if (failed) setTimeout(() => this.ended || this.onCame(), TRY_AGAIN_MS + 50);
    else this.onCame();
    this.pump();
  }

  private async bring(wish: Wish): Promise<void> {
    const last = wish.bytes === null ? null : wish.fromByte + wish.bytes - 1;
    const answer = await fetch(wish.url, {
      cache: 'no-store',
      ...(last === null ? {} : { headers: { range: `bytes=${wish.fromByte}-${last}` } }),
    });
    if (!answer.ok) throw new Error(`${wish.url}: ${answer.status}`);
    const bytes = await answer.arrayBuffer();
    if (!wish.isWanted()) return;
    const isPart = last === null || answer.status === 206;
    wish.keep(isPart ? bytes : bytes.slice(wish.fromByte, last + 1));
  }
}

/** The part asked for last again: columns and samples ask for one part many hundred times in a row. */
function remembered(part: (n: number) => Int16Array | undefined): (n: number) => Int16Array | undefined {
  let lastNumber = Number.NaN;
  let last: Int16Array | undefined;
  return (n) => {
    if (n !== lastNumber) {
      last = part(n);
      lastNumber = n;
    }
    return last;
  };
}

/** Exactly `count` values: a file that is shorter than its length says ends in silence. */
function whole(values: Int16Array, count: number): Int16Array {
  if (values.length === count) return values;
  const out = new Int16Array(count);
  out.set(values.subarray(0, count));
  return out;
}

/** Full scale 1 becomes 32767; beyond it the drawing ends anyway. */
function toInt16(samples: Float32Array): Int16Array {
  const out = new Int16Array(samples.length);
  for (let n = 0; n < samples.length; n++) {
    const value = samples[n]! * 32767;
    out[n] = value > 32767 ? 32767 : value < -32768 ? -32768 : Math.round(value);
  }
  return out;
}

/** Lowest and highest of every four pairs. */
export function fourths(pairs: Int16Array): Int16Array {
  const count = pairs.length >> 1;
  const out = new Int16Array(2 * Math.ceil(count / 4));
  for (let at = 0; at < out.length; at += 2) {
    let low = 32767;
    let high = -32768;
    const end = Math.min(pairs.length, 4 * at + 8);
    for (let n = 4 * at; n < end; n += 2) {
      if (pairs[n]! < low) low = pairs[n]!;
      if (pairs[n + 1]! > high) high = pairs[n + 1]!;
    }
    out[at] = low;
    out[at + 1] = high;
  }
  return out;
}

/** Lowest and highest of every `frames` samples, in turn. */
export function pairsOf(samples: Int16Array, frames: number): Int16Array {
  const count = Math.ceil(samples.length / frames);
  const out = new Int16Array(2 * count);
  for (let at = 0; at < count; at++) {
    let low = 32767;
    let high = -32768;
    const end = Math.min(samples.length, (at + 1) * frames);
    for (let n = at * frames; n < end; n++) {
      const value = samples[n]!;
      if (value < low) low = value;
      if (value > high) high = value;
    }
    out[2 * at] = low;
    out[2 * at + 1] = high;
  }
  return out;
}
