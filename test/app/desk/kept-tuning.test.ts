import { mkdtempSync, readdirSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { Cache } from '../../../app/desk/cache.ts';
import { keptFigures, keptTuning } from '../../../app/desk/kept-tuning.ts';
import { WorkPool } from '../../../app/work/pool.ts';
import type { TrackedVoice } from '../../../core/session/voice-matcher.ts';
import { CancelledError } from '../../../core/signal/fault.ts';

const KEYS = { score: undefined, plan: undefined };
const TUNED = { ...KEYS, referenceHz: null, temperament: 'equal', tonic: 0 } as const;

function voiceOf(id: string, cents: number, offsetSec = 0): TrackedVoice {
  const notes = Array.from({ length: 12 }, (_, n) => {
    const fromSec = 1 + 0.5 * n;
    const times = { fromSec, toSec: fromSec + 0.45, onsetSec: fromSec, onsetUncertaintySec: 0.005 };
    const pitch = { hz: 440, cents: cents + 100 * (n % 4), spreadCents: 2, uncertaintyCents: 1, vibrato: null };
    return { ...times, ...pitch, levelDbfs: -20 };
  });
  const verdict = { kind: 'pitched', pitchedShare: 0.9, sentence: 'One clear pitch at a time.' } as const;
  const row = { hopSec: 0.01, firstSec: 0, hz: new Float64Array(800).fill(440) };
  const place = { offsetSec, driftPpm: 0, uncertaintySec: 0.002 };
  return { id, name: id, tracked: { hopSec: 0.01, firstSec: 0, frames: 800, verdict, notes }, row, place };
}

describe('what was found of notes', () => {
  const pool = new WorkPool(0);
  const voices = [voiceOf('flute', 3), voiceOf('oboe', 8)];
  const takes = voices.map((track) => ({ voice: track.id, track }));
  let folder = '';
  let cache: Cache;
  beforeEach(() => {
    folder = mkdtempSync(join(tmpdir(), 'partsong-test-'));
    cache = new Cache(folder);
  });
  afterEach(() => rmSync(folder, { recursive: true }));

  it('is not reckoned a second time of the same notes, and is the same', async () => {
    const first = await keptTuning(voices, TUNED, cache, pool);
    const figures = await keptFigures(takes, KEYS, cache, pool);
    // Whoever reckons is stopped at once: what is kept needs no reckoning.
    const stopped = { signal: AbortSignal.abort() };
    const again = [voiceOf('flute', 3), voiceOf('oboe', 8)];
    expect(await keptTuning(again, TUNED, cache, pool, stopped)).toEqual(first);
    expect(await keptFigures(takes, KEYS, cache, pool, stopped)).toEqual(figures);
    expect(first.value.voices).toHaveLength(2);
    expect(figures.value[0]!.spreadCents).not.toBeNull();
    expect(readdirSync(folder).sort()).toEqual([`${first.key}.json`, `${figures.key}.json`].sort());
  });

  it('is reckoned anew where a pitch, a place, a note, a name or the A4 is another one', async () => {
    const { key } = await keptTuning(voices, TUNED, cache, pool);
    const [flute, oboe] = voices as [TrackedVoice, TrackedVoice];
    const moved = voiceOf('oboe', 8, 0.01);
    const higher = { ...oboe, row: { ...oboe.row, hz: oboe.row.hz.map((hz, n) => (n === 400 ? hz + 1 : hz)) } };
    const shorter = { ...oboe, tracked: { ...oboe.tracked, notes: oboe.tracked.notes.slice(1) } };
    const others = [
      await keptTuning([flute, moved], TUNED, cache, pool),
      await keptTuning([flute, higher], TUNED, cache, pool),
      await keptTuning([flute, shorter], TUNED, cache, pool),
      await keptTuning([flute, { ...oboe, name: 'hautboy' }], TUNED, cache, pool),
      await keptTuning(voices, { ...TUNED, referenceHz: 442 }, cache, pool),
    ];
    expect(new Set([key, ...others.map((one) => one.key)]).size).toBe(6);
  });

  it('is not kept where the reckoning was stopped', async () => {
    const stopped = { signal: AbortSignal.abort() };
    await expect(keptTuning(voices, TUNED, cache, pool, stopped)).rejects.toThrow(CancelledError);
    await expect(keptFigures(takes, KEYS, cache, pool, stopped)).rejects.toThrow(CancelledError);
    expect(readdirSync(folder)).toEqual([]);
  });
});
