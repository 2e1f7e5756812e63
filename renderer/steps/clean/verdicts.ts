import type { CleanFacts } from '../../../app/shell/contract/desk-view.ts';
import type { Word } from '../../help/words.ts';
import { figure } from '../../parts/numbers.ts';

/** How a verdict is meant: 'good', 'fair' (worth knowing) or 'look' (worth a look or a listen). */
export type Mood = 'good' | 'fair' | 'look';

/** A measured number with what it means, for people. */
export interface Verdict {
  /** What such a number is; explained on demand. */
  readonly word: Word;
  readonly value: string;
  readonly unit: string;
  readonly mood: Mood;
  /** What this number says of this take. */
  readonly verdict: string;
}

/** What cleaning did to a take, in words. Empty while nothing is known. */
export function verdictsOf(clean: CleanFacts): Verdict[] {
  const { noise } = clean;
  if (noise === null) return [];
  return [
    noiseLevel(noise.levelDbfs),
    reduced(noise.reducedDb),
    ...(noise.harmDb === null ? [] : [harm(noise.harmDb)]),
    ...(noise.kurtosisRatio === null ? [] : [musicalNoise(noise.kurtosisRatio)]),
    restored(clean.restoredSamples),
    backedOff(clean.backedOff),
  ];
}

function noiseLevel(levelDbfs: number | null): Verdict {
  const base = { word: 'noiseLevel', unit: 'dBFS' } as const;
  if (levelDbfs === null) return { ...base, value: '–', mood: 'good', verdict: 'nothing at all' };
  const value = figure(levelDbfs);
  if (levelDbfs < -65) return { ...base, value, mood: 'good', verdict: 'a quiet room' };
  if (levelDbfs < -45) return { ...base, value, mood: 'fair', verdict: 'an ordinary room' };
  return { ...base, value, mood: 'look', verdict: 'a loud room' };
}

function reduced(reducedDb: number): Verdict {
  const base = {
    word: 'noiseReduced',
    value: figure(reducedDb),
    unit: 'dB',
  } as const;
  if (reducedDb < 6) return { ...base, mood: 'fair', verdict: 'hardly changed' };
  if (reducedDb < 15) return { ...base, mood: 'good', verdict: 'clearly less' };
  return { ...base, mood: 'good', verdict: 'little is left' };
}

/** Music taken away is heard from this level below the music on, dB; as core/noise counts it. */
const AUDIBLE_HARM_DB = -28;

function harm(harmDb: number): Verdict {
  const base = {
    word: 'harm',
    value: figure(harmDb),
    unit: 'dB',
  } as const;
  if (harmDb < AUDIBLE_HARM_DB - 6) return { ...base, mood: 'good', verdict: 'not to be heard' };
  if (harmDb < AUDIBLE_HARM_DB) return { ...base, mood: 'fair', verdict: 'hardly to be heard' };
  return { ...base, mood: 'look', verdict: 'listen to what was taken away' };
}

function musicalNoise(ratio: number): Verdict {
  const base = {
    word: 'musicalNoise',
    value: figure(ratio, 2),
    unit: '× before',
  } as const;
  if (ratio < 1.5) return { ...base, mood: 'good', verdict: 'even, like the room' };
  if (ratio < 3) return { ...base, mood: 'fair', verdict: 'slightly uneven' };
  return { ...base, mood: 'look', verdict: 'listen to soft places' };
}

function restored(samples: number): Verdict {
  const base = {
    word: 'restored',
    value: String(samples),
    unit: '',
  } as const;
  if (samples === 0) return { ...base, mood: 'good', verdict: 'nothing was cut off' };
  return { ...base, mood: samples > 5000 ? 'look' : 'fair', verdict: 'tops of waves redrawn' };
}

function backedOff(steps: number): Verdict {
  const base = {
    word: 'backedOff',
    value: String(steps),
    unit: steps === 1 ? 'time' : 'times',
  } as const;
  if (steps === 0) return { ...base, mood: 'good', verdict: 'as you chose' };
  return { ...base, mood: 'fair', verdict: 'to spare the music' };
}

/** How sure a silence is, in words. */
export function sureWords(confidence: number | null): string {
  if (confidence === null) return '';
  if (confidence >= 0.8) return 'sure';
  if (confidence >= 0.5) return 'fairly sure';
  return 'not sure: listen to it';
}

/** Why no silence is in use. */
export function noSilenceWords({ state, unfit }: Pick<CleanFacts, 'state' | 'unfit'>): string {
  if (state === 'off') return 'None is in use, since this take is left as it is.';
  return unfit ?? 'No silence was found yet.';
}

/** Why no noise is to be seen. */
export function noNoiseWords({ state }: Pick<CleanFacts, 'state'>): string {
  return state === 'off' ? 'Nothing is learnt of a take that is left as it is.' : 'Nothing is learnt yet.';
}

/** What the state of a take's cleaning is called, and a mark for it that is not colour. */
export function cleanStateWords(clean: CleanFacts): { readonly words: string; readonly mood: Mood | 'wait' } {
  switch (clean.state) {
    case 'off':
      return { words: 'left as it is', mood: 'fair' };
    case 'waiting':
      return { words: 'waiting', mood: 'wait' };
    case 'working':
      return { words: 'being cleaned', mood: 'wait' };
    case 'unfit':
      return { words: 'look here: no silence', mood: 'look' };
    case 'ready': {
      const doubtful = (clean.silenceConfidence ?? 1) < 0.5 || clean.notes.some((note) => note.startsWith('Look here'));
      return doubtful ? { words: 'look here', mood: 'look' } : { words: 'clean', mood: 'good' };
    }
  }
}
