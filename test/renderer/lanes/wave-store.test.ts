import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import { type WaveSource, WaveStore } from '../../../renderer/lanes/wave-store.ts';

interface Asked {
  readonly route: string;
  readonly range: string | undefined;
  answer(bytes: ArrayBuffer, status?: number): void;
}

const source: WaveSource = { takeId: 'take-1', side: 'after', stamp: 'a', lengthFrames: 48000 * 600 };
let asked: Asked[];
let came: number;

/** Lets what was answered run to its end. */
const settle = (): Promise<void> => new Promise((resolve) => setTimeout(resolve, 5));

function draw(store: WaveStore, one: WaveSource, framesPerColumn: number, part = 0): (Int16Array | undefined)[] {
  store.beginDrawing();
  const parts = store.detailsFor(one, framesPerColumn).map((detail) => detail.part(part));
  store.endDrawing();
  return parts;
}

beforeEach(() => {
  asked = [];
  came = 0;
  vi.stubGlobal('fetch', (url: string, init: { headers?: { range: string } }) => {
    return new Promise<Response>((resolve) => {
      asked.push({
        route: url,
        range: init.headers?.range,
        answer: (bytes, status = 206) => resolve(new Response(bytes, { status })),
      });
    });
  });
});

afterEach(() => vi.unstubAllGlobals());

const store = () =>
  new WaveStore(
    (route) => `media/${route}`,
    () => came++,
  );

describe('waveforms from the desk', () => {
  it('are asked for coarse first, the finest level by ranges of 64 KiB', () => {
    draw(store(), source, 300);
    expect(asked.map((one) => `${one.route} ${one.range ?? 'whole'}`)).toEqual([
      'media/wave/take-1/after/2 whole',
      'media/wave/take-1/after/1 whole',
      'media/wave/take-1/after/0 bytes=0-65535',
    ]);
  });

  it('come as samples below 256 frames a column, 32 768 at a time', () => {
    const samples = store();
    draw(samples, source, 2, 3);
    const sound = asked.find((one) => one.route.includes('sound'));
    expect(sound?.range).toBe(`bytes=${4 * 3 * 32768}-${4 * 4 * 32768 - 1}`);
  });

  it('are cut out by ourselves where a door knows no ranges', async () => {
    const one = store();
    draw(one, { ...source, lengthFrames: 70_000 }, 2, 1);
    const all = new Float32Array(70_000).fill(0.5, 32768, 65536);
    asked.find((ask) => ask.route.includes('sound'))!.answer(all.buffer, 200);
    await settle();
    const [samples] = draw(one, { ...source, lengthFrames: 70_000 }, 2, 1);
    expect(samples).toHaveLength(32768);
    expect(samples?.[0]).toBe(16384);
    expect(came).toBe(1);
  });

  it('of a cleaning that has changed meanwhile are thrown away and asked for anew', async () => {
    const one = store();
    draw(one, source, 100_000);
    draw(one, { ...source, stamp: 'b' }, 100_000);
    asked[0]!.answer(new Int16Array(880).buffer, 200);
    await settle();
    const [old] = draw(one, { ...source, stamp: 'b' }, 100_000);
    expect(old).toBeUndefined();
    expect(asked.filter((ask) => ask.route.endsWith('/2'))).toHaveLength(2);
  });

  it('that a later drawing no longer shows are not asked for', async () => {
    const one = store();
    one.beginDrawing();
    for (let n = 0; n < 30; n++) one.detailsFor({ ...source, takeId: `take-${n}` }, 100_000)[0]!.part(0);
    one.endDrawing();
    expect(asked).toHaveLength(4);
    draw(one, { ...source, takeId: 'take-29' }, 100_000);
    for (const ask of [...asked]) ask.answer(new Int16Array(880).buffer, 200);
    await settle();
    expect(asked.slice(4).every((ask) => ask.route.includes('take-29'))).toBe(true);
  });
});
