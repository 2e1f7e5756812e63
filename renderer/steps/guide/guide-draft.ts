import { create } from 'zustand';
import type { GuideChoice } from '../../../app/shell/contract/guide-choice.ts';
import type { ScoreView } from '../../../app/shell/contract/guide-view.ts';
import { usualGuide } from '../../../core/guide/guide-plan.ts';
import { ask, useDesk } from '../../desk/desk-store.ts';

/** The guide that is being thought out: what is chosen, and the score it is made from. */
export interface GuideDraft {
  /** Of the session it belongs to; '' for none. */
  readonly folder: string;
  readonly choice: GuideChoice;
  readonly score: ScoreView | null;
  readonly isReading: boolean;
}

/** What is chosen as long as nobody chose anything; the same as on the command line. */
export const firstChoice: GuideChoice = {
  score: null,
  title: '',
  quartersPerMinute: null,
  metre: { beats: 4, unit: 4 },
  bars: 32,
  settings: { ...usualGuide, restingBars: [] },
  temperament: 'equal',
  tonic: 0,
  clickDb: 0,
  drone: false,
  versions: 'one',
  ownDb: 6,
  withTakes: false,
  formats: ['wav', 'm4a'],
};

export const useGuideDraft = create<GuideDraft>(() => ({
  folder: '',
  choice: firstChoice,
  score: null,
  isReading: false,
}));

/** Changes what is chosen. */
export function choose(change: Partial<GuideChoice>): void {
  useGuideDraft.setState(({ choice }) => ({ choice: { ...choice, ...change } }));
}

/** Changes one of the settings that shape the time line. */
export function chooseSetting(change: Partial<GuideChoice['settings']>): void {
  useGuideDraft.setState(({ choice }) => ({
    choice: { ...choice, settings: { ...choice.settings, ...change } },
  }));
}

/** Begins with the guide made last in this session, or with the usual one; a draft of this session stays. */
export function beginDraft(): void {
  const { view } = useDesk.getState();
  if (view === null || useGuideDraft.getState().folder === view.folder) return;
  const choice = { ...firstChoice, ...view.madeGuide?.choice };
  useGuideDraft.setState({ folder: view.folder, choice: { ...choice, score: null }, score: null, isReading: false });
  if (choice.score !== null) void takeScore(choice.score, choice);
}

/** Reads a score and takes it as the piece; `kept`: choices made for it before. What it says itself counts again. */
export async function takeScore(file: string, kept: Partial<GuideChoice> = {}): Promise<void> {
  useGuideDraft.setState({ isReading: true });
  const { folder } = useGuideDraft.getState();
  const score = await ask((bridge) => bridge.calls.readScore({ file }));
  if (useGuideDraft.getState().folder !== folder) return;
  useGuideDraft.setState(({ choice }) => ({
    isReading: false,
    ...(score === undefined
      ? {}
      : {
          score,
          choice: { ...choice, title: '', quartersPerMinute: null, versions: 'each', ...kept, score: file },
        }),
  }));
}

/** Lets the score go: a click of some bars again. */
export function leaveScore(): void {
  useGuideDraft.setState(({ choice }) => ({
    score: null,
    choice: { ...choice, score: null, quartersPerMinute: null, versions: 'one' },
  }));
}
