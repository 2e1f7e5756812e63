import { describe, expect, it } from 'vitest';
import { timingReport, timingSpreads } from '../../../core/pitch/timing.ts';
import type { TunedNote, TunedVoice } from '../../../core/pitch/tuned-note.ts';
import { Random } from '../../../core/signal/random.ts';

const HIGH = [72, 74, 76, 77, 79, 76, 74, 72, 79, 81, 83, 84, 79, 77, 76, 74];
const LOW = HIGH.map((key) => key - 12);

interface Playing {
  readonly onsetUncertaintySec?: number | ((index: number) => number);
  readonly barOf?: (index: number) => number;
}

/** A voice of notes of half a second, one after the other, four to the bar. */
function voice(
  name: string,
  keys: readonly number[],
  lateSec: (index: number) => number,
  { onsetUncertaintySec = 0.004, barOf = (index) => 1 + (index >> 2) }: Playing = {},
): TunedVoice {
  const notes = keys.map((key, index): TunedNote => {
    const fromSec = 0.5 * index;
    return {
      fromSec,
      toSec: fromSec + 0.48,
      key,
      cents: 100 * (key - 69),
      targetCents: 100 * (key - 69),
      spreadCents: 2,
      uncertaintyCents: 0.5,
      bar: barOf(index),
      onsetSec: fromSec + lateSec(index),
      onsetUncertaintySec: typeof onsetUncertaintySec === 'number' ? onsetUncertaintySec : onsetUncertaintySec(index),
      expectedSec: fromSec,
    };
  });
  return { id: name, name, notes };
}

describe('timing', () => {
  it.each(['guide', 'others'] as const)(
    'tells spreads alone as the report has them, against the %s (seed 21)',
    (against) => {
      const random = new Random(21);
      const voices = [HIGH, LOW, LOW].map((keys, n) => voice(`v${n}`, keys, () => 0.02 * random.gaussian()));
      const withSilent = [...voices, { id: 'silent', name: 'silent', notes: [] }];
      const report = timingReport(withSilent, against);
      expect(report.voices.slice(0, 3).every(({ spreadMs }) => spreadMs !== null && spreadMs > 5)).toBe(true);
      expect(timingSpreads(withSilent, against)).toEqual(
        report.voices.map(({ id, notes, spreadMs }) => ({ id, notes: notes.length, spreadMs })),
      );
    },
  );

  it('says that a voice is 40 ms late against the guide, within 3 ms, and how voices spread in each bar', () => {
    const random = new Random(8);
    const late = voice('late', HIGH, () => 0.04 + 0.004 * random.gaussian());
    const sure = voice('sure', LOW, () => 0.004 * random.gaussian());
    const report = timingReport([late, sure], 'guide');
    expect(Math.abs(report.voices[0]!.lateMs! - 40)).toBeLessThan(3);
    expect(report.voices[0]!.sentence).toContain('late against the guide');
    expect(report.voices[1]!.sentence).toBeNull();
    expect(report.bars.map((bar) => bar.bar)).toEqual([1, 2, 3, 4]);
    // Two onsets 40 ms apart have a standard deviation of 28 ms.
    expect(Math.abs(report.spreadMs! - 28.3)).toBeLessThan(4);
    expect(report.thresholds.map((one) => one.source).join()).toContain('Rasch 1979');
  });

  it('does not go by notes whose beginning was not heard: a third of them 190 ms late by their pitch', () => {
    const isSlurred = (index: number): boolean => index % 3 === 1;
    const bass = voice('bass', LOW, (index) => (isSlurred(index) ? 0.19 : 0.01), {
      onsetUncertaintySec: (index) => (isSlurred(index) ? 0.04 : 0.01),
    });
    const [timing] = timingReport([bass], 'guide').voices;
    expect(timing!.notes).toHaveLength(11);
    expect(timing!.lateMs).toBeCloseTo(10, 6);
    expect(timing!.spreadMs).toBeLessThan(1);
  });

  it('holds voices against each other where no guide tells times', () => {
    const voices = [0.03, 0, -0.03].map((lateSec, index) => voice(`v${index}`, HIGH, () => lateSec));
    const report = timingReport(voices, 'others');
    expect(report.voices.map((one) => Math.round(one.lateMs!))).toEqual([45, 0, -45]);
  });

  it('is no surer of a note against others than they are: 20 ms of one other, 13 of three that are as unsure', () => {
    const late = (others: number) => {
      const unsure = { onsetUncertaintySec: 0.02 };
      const voices = Array.from({ length: others }, (_, n) => voice(`v${n}`, LOW, () => 0, unsure));
      const report = timingReport(
        [voice('sure', HIGH, () => 0.03, { onsetUncertaintySec: 0.003 }), ...voices],
        'others',
      );
      return report.voices[0]!.notes[0]!.uncertaintyMs;
    };
    expect(late(1)).toBeCloseTo(Math.hypot(3, 20), 6);
    expect(late(3)).toBeCloseTo(Math.hypot(3, (1.2533 * 20) / Math.sqrt(3)), 6);
  });

  it('has nothing to say of a single voice without a guide', () => {
    const report = timingReport([voice('a', HIGH, () => 0)], 'others');
    expect(report.spreadMs).toBeNull();
    expect(report.voices[0]!.lateMs).toBeNull();
  });

  it('does not let one voice make the others late: of five the one that is 60 ms late alone is', () => {
    const random = new Random(5);
    const voices = [0, 0, 0.06, 0, 0].map((lateSec, n) =>
      voice(`v${n}`, HIGH, () => lateSec + 0.005 * random.gaussian()),
    );
    const report = timingReport(voices, 'others');
    for (const [n, { lateMs, sentence }] of report.voices.entries()) {
      expect(Math.abs(lateMs! - (n === 2 ? 60 : 0))).toBeLessThan(5);
      expect(sentence === null).toBe(n !== 2);
    }
  });

  it('of two voices says of one that it comes after the other, not of both', () => {
    const report = timingReport([voice('flute', HIGH, () => 0.045), voice('horn', LOW, () => 0)], 'others');
    expect(report.voices.map(({ sentence }) => sentence !== null)).toEqual([true, false]);
    expect(report.voices[0]!.sentence).toContain('flute is heard 45 ms late against horn');
  });

  it('says of soft attacks that the voice may have been played in time, and is less sure of it', () => {
    const late = (lateSec: number, onsetUncertaintySec: number) => {
      const cello = voice('cello', HIGH, () => lateSec, { onsetUncertaintySec });
      return timingReport([cello, voice('a', LOW, () => 0), voice('b', LOW, () => 0)], 'others').voices[0]!;
    };
    expect(late(0.06, 0.004).sentence).toContain('moving the take mends it');
    expect(late(0.06, 0.025).sentence).toContain('its notes begin softly');
    expect(late(0.06, 0.025).uncertaintyMs).toBeGreaterThanOrEqual(10);
    // Slurred throughout: 0.4 of 45 ms are the same for all.
    expect(late(0.03, 0.045).sentence).toBeNull();
  });

  it('does not call a voice late whose notes between the beats alone are, as where they swing', () => {
    const swinging = voice('sax', HIGH, (index) => (index % 2 === 0 ? 0 : 0.09));
    const [sax] = timingReport([swinging], 'guide').voices;
    expect(sax!.sentence).toBeNull();
    expect(sax!.spreadMs).toBeGreaterThan(30);
  });

  it('says that a voice runs ahead, by 80 ms within 10, not that it is early all through; and not of steady ones', () => {
    const random = new Random(6);
    const rushing = voice('sax', [...HIGH, ...HIGH], (index) => (-0.08 * index) / 31 + 0.006 * random.gaussian());
    const steady = voice('horn', [...LOW, ...LOW], () => 0.006 * random.gaussian());
    const report = timingReport([rushing, steady], 'guide');
    expect(report.voices[0]!.sentence).toContain('sax runs ahead of the guide by');
    expect(Math.abs(report.voices[0]!.lag!.ms + 80)).toBeLessThan(10);
    expect(report.voices[1]!.sentence).toBeNull();
    expect(Math.abs(report.voices[1]!.lag!.ms)).toBeLessThan(10);
  });

  it('has a bar that is repeated twice, each time with its own spread', () => {
    const barOf = (index: number): number => 1 + ((index >> 2) % 2);
    const uneven = voice('a', HIGH, (index) => (index < 8 ? 0 : 0.05), { barOf });
    const report = timingReport([uneven, voice('b', LOW, () => 0, { barOf })], 'guide');
    expect(report.bars.map(({ bar, spreadMs }) => [bar, Math.round(spreadMs)])).toEqual([
      [1, 0],
      [2, 0],
      [1, 35],
      [2, 35],
    ]);
  });
});
