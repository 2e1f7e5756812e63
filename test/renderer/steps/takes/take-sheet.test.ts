import { describe, expect, it } from 'vitest';
import type { TakeFacts } from '../../../../app/shell/contract/desk-view.ts';
import type { Take } from '../../../../core/session/schema.ts';
import { sheetFigures } from '../../../../renderer/steps/takes/take-sheet.ts';

const words = (take: Partial<Take>, facts: object): string[] =>
  sheetFigures({ placement: null, ...take } as Take, facts as TakeFacts).map((one) => `${one.label} ${one.words}`);

describe('the figures of a take sheet', () => {
  it('are the same five for each take, a dash where one is not known', () => {
    expect(words({}, { clean: { state: 'off', noise: null }, played: null, integratedLufs: null })).toEqual([
      'music –',
      'noise –',
      'place –',
      'timing –',
      'pitch –',
    ]);
  });

  it('carry their units, tenths of ms below 10 ms', () => {
    const placement = { uncertaintySec: 0.0003, question: null } as Take['placement'];
    const clean = { state: 'ready', noise: { levelDbfs: -51.64 } };
    expect(
      words({ placement }, { clean, played: { scatterMs: 17.2, spreadCents: 3.6 }, integratedLufs: -18.46 }),
    ).toEqual([
      'music −18.5 LUFS',
      'noise −51.6 dBFS',
      'place within 0.3 ms',
      'timing scatter 17 ms',
      'pitch spread 4 cents',
    ]);
  });

  it('say that the noise of a take without a silence is not known, and that a guessed place is a question', () => {
    const placement = { uncertaintySec: 0.012, question: 'Where?' } as Take['placement'];
    expect(words({ placement }, { clean: { state: 'unfit', noise: null }, played: null, integratedLufs: -20 })).toEqual(
      expect.arrayContaining(['noise not known', 'place a question']),
    );
  });
});
