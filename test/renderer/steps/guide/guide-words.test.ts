import { describe, expect, it } from 'vitest';
import type { ScoreView } from '../../../../app/shell/contract/guide-view.ts';
import { planGuide, usualGuide } from '../../../../core/guide/guide-plan.ts';
import { atTempo, plainScore } from '../../../../core/guide/plain-score.ts';
import { firstChoice } from '../../../../renderer/steps/guide/guide-draft.ts';
import { layOutGuide } from '../../../../renderer/steps/guide/guide-line-layout.ts';
import { guideInWords } from '../../../../renderer/steps/guide/guide-line-picture.tsx';
import {
  keyName,
  metreWords,
  plannedGuide,
  readRests,
  restsInWords,
  tempoOf,
  tempoWords,
} from '../../../../renderer/steps/guide/guide-words.ts';

const score: ScoreView = {
  file: '/music/round.mid',
  score: {
    ...plainScore({ title: 'Round', quartersPerMinute: 72, beats: 3, unit: 4, bars: 12 }),
    parts: [{ name: 'Soprano', sound: 'voice', noteCount: 36, lowestKey: 60, highestKey: 72 }],
  },
};

describe('the plan shown before a guide is made', () => {
  it('is that of the desk, to the frame: with a score, at another tempo, and as a click', () => {
    const planOf = (planned: ReturnType<typeof plannedGuide>) => (planned.kind === 'planned' ? planned.plan : null);
    const piece = { ...score.score, parts: [] };
    const { settings } = firstChoice;
    expect(planOf(plannedGuide({ ...firstChoice, score: score.file }, score))).toEqual(planGuide(piece, settings));
    const slower = { ...firstChoice, score: score.file, quartersPerMinute: 54 };
    expect(planOf(plannedGuide(slower, score))).toEqual(planGuide(atTempo(piece, 54), settings));
    const click = plainScore({ title: '', quartersPerMinute: 90, beats: 4, unit: 4, bars: 32 });
    expect(planOf(plannedGuide(firstChoice, null))).toEqual(planGuide(click, settings));
    expect(tempoOf(firstChoice, score)).toBe(72);
    expect(settings).toEqual(usualGuide);
  });

  it('is a sentence where there can be none', () => {
    const wrong = { ...firstChoice, settings: { ...firstChoice.settings, silenceSec: 0.1 } };
    expect(plannedGuide(wrong, null)).toMatchObject({ kind: 'not' });
  });

  it('is drawn from left to right inside its edges, for 1 to 2000 bars and widths of 240 to 2400 px', () => {
    for (const bars of [1, 7, 300, 2000]) {
      for (const width of [240, 1000, 2400]) {
        const planned = plannedGuide(
          { ...firstChoice, bars, settings: { ...firstChoice.settings, cue: 'both' } },
          null,
        );
        if (planned.kind !== 'planned') throw new Error(planned.why);
        const layout = layOutGuide(planned.plan, 10, width);
        const inOrder = [
          ...layout.cues[0]!.beats,
          layout.cues[0]!.clap,
          ...layout.clicks.map(({ x }) => x),
          ...layout.bars.map(({ x }) => x),
          layout.musicEnd,
          ...layout.cues[1]!.beats,
          layout.cues[1]!.clap,
          layout.end,
        ];
        expect(inOrder.toSorted((a, b) => a - b)).toEqual(inOrder);
        expect(inOrder[0]!).toBeGreaterThan(10);
        expect(layout.end).toBeCloseTo(width, 6);
        const xs = layout.bars.map(({ x }) => x);
        for (let n = 2; n < xs.length; n++) expect(xs[n]! - xs[n - 1]!).toBeGreaterThan(8.9);
      }
    }
  });

  it('is told in sentences too', () => {
    const planned = plannedGuide({ ...firstChoice, bars: 8 }, null);
    if (planned.kind !== 'planned') throw new Error(planned.why);
    expect(guideInWords(planned.plan)).toBe(
      'A soft tone, then silence from 0:01.3 to 0:06.3. A tone to tune to, A at 440 Hz, from 0:07.6. ' +
        'Three soft beats, then your clap at 0:14.4. The count-in begins at 0:16.9. ' +
        'Music from 0:22.2 to 0:43.5, 8 bars. It ends at 0:47.2.',
    );
  });
});

describe('words of a score', () => {
  it('tell metres, tempo and compass', () => {
    const metre = (atBar: number, beats: number) => ({ atBar, beats, unit: 4, groups: null });
    expect(metreWords([metre(0, 4)], false)).toBe('4/4');
    expect(metreWords([metre(0, 4), metre(8, 3)], false)).toBe('4/4, 3/4 from bar 9');
    expect(metreWords([metre(0, 4), metre(8, 3)], true)).toBe('4/4, 3/4 from bar 8');
    expect(
      metreWords(
        [4, 3, 2, 5].map((beats, at) => metre(at, beats)),
        false,
      ),
    ).toMatch(/, and more changes$/);
    expect(tempoWords(score.score)).toBe('72 quarters a minute');
    const [mark] = score.score.tempo;
    const again = { ...score.score, tempo: [mark!, mark!, mark!, { ...mark!, quartersPerMinute: 60 }] };
    expect(tempoWords(again)).toBe('72 quarters a minute, one change of tempo');
    expect([60, 69, 58, 21].map(keyName)).toEqual(['C4', 'A4', 'B♭3', 'A0']);
  });

  it('read bars in which the click rests as people write them', () => {
    expect(readRests('9-16, 25')).toEqual([
      { fromBar: 9, toBar: 16 },
      { fromBar: 25, toBar: 25 },
    ]);
    expect(readRests('')).toEqual([]);
    for (const wrong of ['9-', 'x', '16-9', '1,,2', '999999']) expect(readRests(wrong), wrong).toBeNull();
    expect(restsInWords(readRests('9 – 16; 25')!)).toBe('9–16, 25');
  });
});
