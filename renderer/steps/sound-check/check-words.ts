import type { StepState } from '../../../app/shell/contract/desk-view.ts';
import type { TrialView } from '../../../app/shell/contract/guide-view.ts';
import type { CheckWeight, SoundCheck } from '../../../core/guide/sound-check.ts';
import { change, figure } from '../../parts/numbers.ts';

/** What a finding asks for, in two words. */
export const weightWords: Readonly<Record<CheckWeight, string>> = {
  again: 'change first',
  mend: 'worth a change',
  know: 'good to know',
};

/** The sign of a finding. */
export const weightSigns: Readonly<Record<CheckWeight, StepState>> = {
  again: 'lookHere',
  mend: 'toDo',
  know: 'done',
};

/** The state of a trial, as the running order has it. */
export function trialState(trial: TrialView): StepState {
  if (trial.state === 'working') return 'toDo';
  return trial.check?.ready === true ? 'done' : 'lookHere';
}

/** Room left above the loudest peak, dB; null where there is no music. */
export function headroomDb({ figures }: SoundCheck): number | null {
  return figures.peakDbfs === null ? null : -figures.peakDbfs;
}

/** What became better or worse since the trial before, in a few words; '' where nothing did. */
export function sinceBefore(now: SoundCheck, before: SoundCheck | null): string {
  if (before === null) return '';
  const words: string[] = [];
  const moved = (name: string, a: number | null, b: number | null, unit: string): void => {
    if (a === null || b === null || Math.abs(a - b) < 1) return;
    words.push(`${name} ${change(a - b, 0)} ${unit}`);
  };
  moved('music', now.figures.musicDbfs, before.figures.musicDbfs, 'dB');
  moved('noise', now.figures.noiseDbfs, before.figures.noiseDbfs, 'dB');
  const codes = new Set(now.findings.filter(({ weight }) => weight !== 'know').map(({ code }) => code));
  const mended = before.findings.filter(({ weight, code }) => weight !== 'know' && !codes.has(code)).length;
  if (mended > 0) words.push(mended === 1 ? 'one thing mended' : `${mended} things mended`);
  return words.join(', ');
}

/** The levels of a trial in a sentence, for people who do not see the picture. */
export function levelsInWords({ figures }: SoundCheck): string {
  const { noiseDbfs, musicDbfs, loudestDbfs, peakDbfs } = figures;
  const told: string[] = [];
  if (noiseDbfs !== null) told.push(`the noise of the room at ${figure(noiseDbfs)} dBFS`);
  if (musicDbfs !== null) told.push(`the music at ${figure(musicDbfs)} dBFS`);
  if (loudestDbfs !== null) told.push(`its loudest passage at ${figure(loudestDbfs)} dBFS`);
  if (peakDbfs !== null) {
    const room = peakDbfs > 0 ? 'above' : 'below';
    told.push(`the highest peak at ${change(peakDbfs)} dBFS, ${figure(Math.abs(peakDbfs))} dB ${room} full scale`);
  }
  if (told.length === 0) return 'No levels could be measured.';
  const sentence = told.join(', ');
  return `${sentence.charAt(0).toUpperCase()}${sentence.slice(1)}.`;
}
