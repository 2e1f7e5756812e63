import { describe, expect, it } from 'vitest';
import type { CleanFacts, TakeFacts } from '../../../../app/shell/contract/desk-view.ts';
import { AUDIBLE_HARM_DB } from '../../../../core/noise/noise.ts';
import { settingsOf } from '../../../../core/noise/settings.ts';
import { apply } from '../../../../core/session/edit.ts';
import { editSchema } from '../../../../core/session/edit-schema.ts';
import type { CleanChoice } from '../../../../core/session/schema.ts';
import { cleanAllEdit, fineInForce, withFine } from '../../../../renderer/steps/clean/clean-edits.ts';
import { layNoise } from '../../../../renderer/steps/clean/noise-layout.ts';
import { byteDb, paintInk, shownRange, stretchShown } from '../../../../renderer/steps/clean/stretch-shown.ts';
import {
  cleanStateWords,
  noNoiseWords,
  noSilenceWords,
  verdictsOf,
} from '../../../../renderer/steps/clean/verdicts.ts';
import { benchSession } from '../bench-session.ts';

const even: CleanChoice = { on: true, character: 'even', rule: 'lsa', fine: null };

const noise = {
  levelDbfs: -52,
  reducedDb: 24,
  humHz: 50,
  harmDb: -40,
  kurtosisRatio: 1.1,
  character: 'even',
  rule: 'lsa',
  spectrum: [50, 500, 5000].map((hz) => ({ hz, beforeDb: -60, afterDb: -85 })),
};

const clean: CleanFacts = {
  state: 'ready',
  unfit: null,
  silence: { fromSec: 1, toSec: 4, how: 'found' },
  silenceConfidence: 0.9,
  noise,
  whistlesHz: [],
  lines: [],
  restoredSamples: 0,
  backedOff: 0,
  notes: [],
};

const facts: TakeFacts = {
  takeId: 'a',
  state: 'ready',
  fault: null,
  file: 'a.m4a',
  lengthSec: 60,
  clipSec: 60,
  part: null,
  several: null,
  played: null,
  rateHz: 48000,
  codec: 'aac',
  channels: 1,
  hasPicture: false,
  picture: null,
  peakDbfs: -6,
  clipped: [],
  silences: [],
  waves: { before: true, after: true },
  notes: [],
  clean,
  integratedLufs: -20,
  music: { fromSec: 9, toSec: 55 },
  mended: 'none',
  mendNotes: [],
  playable: true,
};

describe('fine settings', () => {
  it("begin at the character's own values", () => {
    expect(fineInForce({ ...even, character: 'firm' }).reductionDb).toBe(settingsOf('firm').reductionDb);
  });

  it('are the character again when every one is moved back', () => {
    const moved = withFine(even, { reductionDb: 30 });
    expect(moved.fine?.reductionDb).toBe(30);
    expect(withFine(moved, { reductionDb: 26 }).fine).toBeNull();
  });

  it('give all takes one choice as one edit that the desk accepts, and none when all have it', () => {
    const session = benchSession(3);
    const firm: CleanChoice = { ...even, character: 'firm' };
    const edit = cleanAllEdit(session, firm);
    expect(editSchema.parse(edit)).toEqual(edit);
    const after = apply(session, edit!);
    expect(after.takes.map((take) => take.clean.character)).toEqual(['firm', 'firm', 'firm']);
    expect(cleanAllEdit(after, firm)).toBeUndefined();
  });
});

describe('verdicts', () => {
  it('call to look when harm reaches what the cleaner counts as audible, and not 7 dB below', () => {
    const mood = (harmDb: number) =>
      verdictsOf({ ...clean, noise: { ...noise, harmDb } }).find((one) => one.word === 'harm')?.mood;
    expect(mood(AUDIBLE_HARM_DB + 0.1)).toBe('look');
    expect(mood(AUDIBLE_HARM_DB - 7)).toBe('good');
  });

  it('leave out harm and musical noise where they could not be measured', () => {
    const words = verdictsOf({ ...clean, noise: { ...noise, harmDb: null, kurtosisRatio: null } }).map(
      (one) => one.word,
    );
    expect(words).toEqual(['noiseLevel', 'noiseReduced', 'restored', 'backedOff']);
  });

  it('say of a take that is left as it is that nothing was asked for, not that nothing was found', () => {
    const off = { ...clean, state: 'off', silence: null, noise: null } as const;
    expect(noSilenceWords(off)).toBe('None is in use, since this take is left as it is.');
    expect(noNoiseWords(off)).toBe('Nothing is learnt of a take that is left as it is.');
    expect(noSilenceWords({ ...off, state: 'waiting' })).toBe('No silence was found yet.');
    expect(noSilenceWords({ state: 'unfit', unfit: 'It is too short.' })).toBe('It is too short.');
    expect(noNoiseWords({ state: 'waiting' })).toBe('Nothing is learnt yet.');
  });

  it('call to look at a take whose silence is less sure than 50 %', () => {
    expect(cleanStateWords({ ...clean, silenceConfidence: 0.49 }).mood).toBe('look');
    expect(cleanStateWords(clean).mood).toBe('good');
  });
});

describe('noise picture', () => {
  const inside = { left: 40, right: 440, top: 40, bottom: 180 };

  it('puts a decade of pitch half way between two decades, and names hum by its multiple', () => {
    const laid = layNoise({ ...clean, lines: [50, 100, 150].map((hz) => ({ hz, levelDbfs: -60 })) }, inside)!;
    expect(laid.x(500)).toBeCloseTo(240, 6);
    expect(laid.lines.map((line) => line.words)).toEqual(['hum 50 Hz', '× 2', '× 3']);
  });

  it('keeps every point inside, also one of digital silence', () => {
    const bands = [
      { hz: 100, beforeDb: -60, afterDb: -200 },
      { hz: 200, beforeDb: -62, afterDb: -200 },
    ];
    const laid = layNoise({ ...clean, noise: { ...noise, spectrum: bands } }, inside)!;
    for (const [, y] of [...laid.before, ...laid.after]) {
      expect(y).toBeGreaterThanOrEqual(inside.top);
      expect(y).toBeLessThanOrEqual(inside.bottom);
    }
  });

  it('gives names of near lines rows of their own', () => {
    const spread = layNoise(
      { ...clean, whistlesHz: [300, 1592, 3551, 7858] },
      { ...inside, right: inside.left + 215 },
    )!;
    const names = spread.lines.flatMap(({ row, side, x }) =>
      row < 0 ? [] : [{ row, from: side === 'left' ? x - 90 : x }],
    );
    for (const { row, from } of names) {
      const near = names.filter((other) => other.row === row && Math.abs(other.from - from) < 90);
      expect(near).toHaveLength(1);
    }
    const laid = layNoise({ ...clean, whistlesHz: [1000, 1010, 1020, 1030] }, inside)!;
    const rows = laid.lines.filter((line) => line.kind === 'whistle').map((line) => line.row);
    expect(new Set(rows.filter((row) => row >= 0)).size).toBe(3);
    expect(rows).toContain(-1);
  });

  it('calls a low tone that belongs to no hum a hum all the same, and a high one a whistle', () => {
    const laid = layNoise({ ...clean, whistlesHz: [93, 3551] }, inside)!;
    const named = laid.lines.filter(({ hz }) => hz === 93 || hz === 3551).map(({ kind, words }) => [kind, words]);
    expect(named).toEqual([
      ['hum', 'hum 93 Hz'],
      ['whistle', 'whistle 3551 Hz'],
    ]);
  });
});

describe('spectrogram', () => {
  it('shows the first notes with 2 s of room before them, in the time of the take', () => {
    const shown = stretchShown('notes', facts, { offsetSec: 1, driftPpm: 0 }, null);
    expect(shown.span).toEqual({ fromSec: 6, toSec: 14 });
  });

  it('falls back to the notes when the selected stretch lies outside the take', () => {
    expect(stretchShown('selected', facts, null, { fromSec: 70, toSec: 80 }).shown).toBe('notes');
    expect(stretchShown('selected', facts, null, { fromSec: 10, toSec: 12 }).span).toEqual({ fromSec: 10, toSec: 12 });
  });

  it('reads bytes as -120 dBFS to 0 dBFS and spans 80 dB below the loudest', () => {
    expect(byteDb(0)).toBe(-120);
    expect(byteDb(255)).toBe(0);
    expect(shownRange(new Uint8Array([0, 191]))).toEqual({ lowDb: -110, topDb: -30 });
  });

  it('paints the first row of a column at the foot', () => {
    const palette = new Uint8ClampedArray(1024);
    for (let n = 0; n < 256; n++) palette[4 * n] = n;
    const pixels = new Uint8ClampedArray(2 * 2 * 4);
    paintInk(new Uint8Array([255, 0, 0, 255]), 2, 2, { lowDb: -120, topDb: 0 }, palette, pixels);
    expect([pixels[0], pixels[4], pixels[8], pixels[12]]).toEqual([0, 255, 255, 0]);
  });
});
