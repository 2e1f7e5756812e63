import { describe, expect, it } from 'vitest';
import { type BlendedVoice, blend, mixSpan } from '../../../app/desk/blend.ts';
import { shortened, wholeTimes } from '../../../app/desk/report/markup.ts';
import { reportPage } from '../../../app/desk/report/page.ts';
import type { Report, TakeReport } from '../../../core/session/report.ts';
import type { Placement, Voice } from '../../../core/session/schema.ts';
import { stripOf } from '../../../core/session/strip-of.ts';

const LENGTH_SEC = 600;

function take(voice: string, uncertaintySec: number): TakeReport {
  const question = uncertaintySec < 10 ? null : 'Where does it belong?';
  return {
    file: `${voice}.mov`,
    name: voice,
    voice,
    lengthSec: LENGTH_SEC,
    stem: `stems/${voice}.wav`,
    silence: null,
    noise: null,
    placement: { offsetSec: -2.7, driftPpm: -12, uncertaintySec, confidence: 0.9, question, evidence: [] },
    loudness: { integratedLufs: -20 },
    music: null,
    gainDb: 0,
    role: 'inner',
    placeDeg: 0,
    notes: [],
  };
}

function report(takes: readonly TakeReport[]): Report {
  const mix = {
    file: 'mix.wav',
    integratedLufs: -14,
    truePeakDbtp: -1,
    rangeLu: 5,
    lengthSec: LENGTH_SEC,
    limiterMaxDb: 1,
    targetLufs: -14,
    ceilingDbtp: -1,
    music: null,
    shortTermLufs: Array.from({ length: 2 * LENGTH_SEC }, () => -14),
    copies: [],
  };
  return { format: 'partsong-report', version: 1, title: 'A <b>"title"</b> & more', takes, mix, notes: [] };
}

describe('the report page', () => {
  it('shows names with marks of HTML as text', () => {
    const page = reportPage(report([take(`<img src=x onerror="alert(1)"> & 'co'`, 0.003)]), [undefined]);
    expect(page).not.toMatch(/<img|<b>/);
    expect(page).toContain('A &lt;b&gt;&quot;title&quot;&lt;/b&gt; &amp; more');
  });

  it('tells the true peak of stems where there are some, and of those past full scale what to do', () => {
    const stems = [-6.24, 0.71, null].map((stemTruePeakDbtp, n) => ({ ...take(`v${n}`, 0.003), stemTruePeakDbtp }));
    const page = reportPage(report(stems), [undefined, undefined, undefined]);
    for (const cell of ['−6.2 dBTP', '+0.7 dBTP', 'silent']) expect(page).toContain(`<td class="number">${cell}</td>`);
    expect(page).toContain('A stem above 0 dBTP passes full scale.');
    expect(reportPage(report(stems.slice(0, 1)), [undefined])).not.toContain('passes full scale');
    const without = reportPage(report([{ ...take('alone', 0.003), stem: null }]), [undefined]);
    expect(without).not.toContain('true peak of its stem');
  });

  it('tells a start before the session in words, and an unknown place as such, without 10000 ms', () => {
    const page = reportPage(report([take('known', 0.003), take('lost', 10)]), [undefined, undefined]);
    expect(page).toContain('begins 0:02.7 before the session does, placed within 3.0 ms');
    expect(page).toContain('Its place is not known. Where does it belong?');
    expect(page).not.toMatch(/10000/);
  });

  it('draws the offset over time with the bends in words, and says where it passes 10 ms', () => {
    const one = take('bent', 0.003);
    const trail = Array.from({ length: 30 }, (_, n) => ({
      kind: n % 2 === 0 ? ('bleed' as const) : ('onsets' as const),
      atSec: 20 * n - 2.7,
      takeSec: 20 * n,
      uncertaintySec: 0.002,
      accepted: n !== 7,
    }));
    const bends = [{ takeSec: 300, jumpSec: 0.02, driftPpm: -12 }];
    const placement = { ...one.placement!, bends, residualSec: 0.012, trail };
    const page = reportPage(report([{ ...one, placement }, take('plain', 0.003)]), [undefined, undefined]);
    expect(page.match(/Offset of the take over time/g)).toHaveLength(1);
    expect(page).toContain('Its clock changes, which is mended: lost 20 ms at 4:57.3.');
    expect(page).toMatch(/it may lie 12 ms from its place/);
    expect(page.match(/class="witness aside"/g)).toHaveLength(1);
    expect(page).toContain('than its place; dot: guide heard in the take; diamond: notes against the guide');
  });

  it('stays below 100 KB a take of 10 min, whose waveform has 25 points a second', () => {
    const points = Array.from({ length: 25 * LENGTH_SEC }, (_, n) => 0.5 + 0.4 * Math.sin(n));
    const waveform = { perSec: 25, highest: points, lowest: points.map((value) => -value) };
    const page = reportPage(report([take('one', 0.003), take('two', 0.003)]), [waveform, waveform]);
    expect(page.length).toBeLessThan(200_000);
  });

  it('marks rulers at whole steps and keeps both ends of a long name', () => {
    expect(wholeTimes(39.1)).toEqual([0, 5, 10, 15, 20, 25, 30, 35]);
    expect(wholeTimes(LENGTH_SEC)).toHaveLength(11);
    expect(shortened('Alto recorder, second attempt', 15)).toBe('Alto re…attempt');
    expect(shortened('Alto', 15)).toBe('Alto');
  });
});

describe('a take whose place is not known', () => {
  const voices = ['one', 'two'].map(
    (id): Voice => ({
      id,
      name: id,
      role: 'inner',
      colour: 0,
      trimDb: 0,
      placeDeg: null,
      muted: false,
      chosenTakeId: null,
      passages: null,
    }),
  );
  const loudnesses = voices.map((_, index) => ({
    integratedLufs: -20,
    momentaryLufs: Array.from({ length: 100 }, (_, n) => (n > 20 * (index + 1) ? -20 : -70)),
  }));
  const placement = (uncertaintySec: number): Placement => ({
    offsetSec: 0,
    driftPpm: 0,
    uncertaintySec,
    driftUncertaintyPpm: 100,
    confidence: 0,
    question: null,
    by: 'found',
    evidence: [],
  });

  const blended = (placements: readonly Placement[]): BlendedVoice[] =>
    blend(voices.map((voice, index) => ({ voice, loudness: loudnesses[index]!, placement: placements[index]! })));

  it('is left out of the mix and of its span', () => {
    const [lost, placed] = blended([placement(10), placement(0.003)]);
    expect(lost!.finding.leftOut).toBe(true);
    expect(stripOf(voices[0]!, lost!.finding).muted).toBe(true);
    expect(placed!.finding.leftOut).toBe(false);
    expect(stripOf(voices[1]!, placed!.finding).muted).toBe(false);
    expect(mixSpan(voices, [lost!, placed!], 10)).toEqual(mixSpan([voices[1]!], [placed!], 10));
  });

  it('is kept where no take could be placed at all', () => {
    const both = blended([placement(10), placement(10)]);
    expect(both.map((voice) => voice.finding.leftOut)).toEqual([false, false]);
  });
});
