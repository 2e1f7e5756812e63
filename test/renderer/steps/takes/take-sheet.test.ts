import { describe, expect, it } from 'vitest';
import type { TakeFacts } from '../../../../app/shell/contract/desk-view.ts';
import type { Session, Take } from '../../../../core/session/schema.ts';
import { pieceSpan, sheetFigures, sheetOf } from '../../../../renderer/steps/takes/take-sheet.ts';

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
    const played = { scatterMs: 11, spreadCents: 1.2 };
    expect(words({ placement }, { clean, played, integratedLufs: -18.46 })[4]).toBe('pitch spread 1 cent');
  });

  it('say that a pitch is not measured where that cannot be, which is no dash for what was not listened to', () => {
    const played = { scatterMs: null, spreadCents: null, noPitch: 'Too little sounds in it to measure its pitch.' };
    expect(words({}, { clean: { state: 'off', noise: null }, played, integratedLufs: null })[4]).toBe(
      'pitch not measured',
    );
  });

  it('say that the noise of a take without a silence is not known, and that a guessed place is a question', () => {
    const placement = { uncertaintySec: 0.012, question: 'Where?' } as Take['placement'];
    expect(words({ placement }, { clean: { state: 'unfit', noise: null }, played: null, integratedLufs: -20 })).toEqual(
      expect.arrayContaining(['noise not known', 'place a question']),
    );
  });
});

/** A take whose music was heard from one session time to another. */
const heard = (id: string, fromSec: number, toSec: number) => ({
  take: {
    id,
    name: id,
    mark: 'none',
    placement: { question: null, confidence: 0.95, evidence: [] },
  } as unknown as Take,
  facts: {
    state: 'ready',
    clipped: [],
    clean: { state: 'ready', noise: { levelDbfs: -70 } },
    music: { fromSec, toSec },
    played: null,
    integratedLufs: -20,
  } as unknown as TakeFacts,
});

describe('a take in which the guide leaks before and after the piece', () => {
  const all = [heard('leaky', 0, 92), heard('whole', 22, 84), heard('broken', 22, 60), heard('other', 22, 84.5)];
  const facts = Object.fromEntries(all.map((one) => [one.take.id, one.facts]));
  const session = { guide: null, takes: all.map(({ take }) => take) } as unknown as Session;
  const judged = (piece: Session) =>
    sheetOf([all[0]!.take, all[1]!.take], facts, pieceSpan(piece, facts))?.best?.reason;

  it('does not make the take without leakage 30 s too short, whether the guide or the other takes tell where the piece lies', () => {
    const plan = { musicFrame: 22 * 48000, musicEndFrame: 84 * 48000 };
    expect(judged(session)).toBe('The takes are equally good.');
    expect(judged({ ...session, guide: { clip: {}, plan } } as unknown as Session)).toBe('The takes are equally good.');
  });

  it('leaves one that was broken off 24 s before the end too short', () => {
    const sheet = sheetOf([all[1]!.take, all[2]!.take], facts, pieceSpan(session, facts));
    expect(sheet?.best).toEqual({
      takeId: 'whole',
      reason: 'Nothing speaks against it; broken is 24 s shorter than the longest take.',
    });
  });
});
