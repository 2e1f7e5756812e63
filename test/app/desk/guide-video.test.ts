import { mkdtempSync, readdirSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import { picturesOf, writeGuideVideo } from '../../../app/desk/guide-video.ts';
import { planGuide, usualGuide } from '../../../core/guide/guide-plan.ts';
import { plainScore } from '../../../core/guide/plain-score.ts';
import type { Block } from '../../../core/signal/block.ts';
import { CancelledError } from '../../../core/signal/fault.ts';

const folder = mkdtempSync(join(tmpdir(), 'partsong-video-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const plan = planGuide(plainScore({ title: 'x', quartersPerMinute: 90, beats: 3, unit: 4, bars: 40 }), usualGuide);

async function* silence(): AsyncGenerator<Block> {
  const block = new Float32Array(48_000);
  for (let at = 0; at < plan.lengthFrames; at += block.length) yield [block];
}

describe('the guide video', () => {
  it('leaves nothing behind when it is stopped half-way', async () => {
    const stop = new AbortController();
    const made = writeGuideVideo(join(folder, 'guide.mp4'), silence(), plan, {
      title: 'Round',
      bitrateKbps: 128,
      signal: stop.signal,
      onProgress: (fraction) => fraction > 0.3 && stop.abort(),
    });
    await expect(made).rejects.toThrow(CancelledError);
    expect(readdirSync(folder)).toEqual([]);
  });

  it('hands the same bytes on where nothing has changed, a picture for each 40 ms', () => {
    const signal = new AbortController().signal;
    const pictures = [...picturesOf(plan, { title: 'Round', signal, onProgress: () => undefined })];
    expect(pictures).toHaveLength(Math.ceil((plan.lengthFrames / 48000) * 25));
    expect(new Set(pictures).size).toBeLessThan(pictures.length / 2);
  });
});
