import type { PitchTrack } from './pitch-tracker.ts';

/** Whether the pitch of a take can be measured, and why not. */
export interface PitchVerdict {
  readonly kind: 'pitched' | 'unsure' | 'several' | 'unpitched' | 'silent';
  /** Of the time in which something sounds: how much has one clear pitch, 0 to 1. */
  readonly pitchedShare: number;
  /** One plain sentence. */
  readonly sentence: string;
}

/** Chosen between takes of one instrument (0.75 and more) and chords, speech-like noise and drums (see the tests). */
const CLEAR_SHARE = 0.6;
const SOME_SHARE = 0.3;
/**
 * Frames of one instrument whose pitch is hollow: fewer than 0.2; of chords: 0.4 and more, measured on five kinds of tone. Fifths
 * of the softest of them pass for one note: nothing then sounds between their partials.
 */
const SEVERAL_SHARE = 0.3;
const SHORTEST_SEC = 0.5;

/** Looks at the frames in which something sounds. */
export function pitchVerdict(track: PitchTrack): PitchVerdict {
  const sorted = [...track.levelsDbfs].sort((a, b) => a - b);
  const loudest = sorted[Math.floor(0.98 * (sorted.length - 1))] ?? Number.NEGATIVE_INFINITY;
  const floor = sorted[Math.floor(0.03 * (sorted.length - 1))] ?? Number.NEGATIVE_INFINITY;
  const gate = Math.max(loudest - 30, Math.min(floor + 6, loudest - 10));
  let sounding = 0;
  let pitched = 0;
  let several = 0;
  for (let n = 0; n < track.hz.length; n++) {
    if (track.levelsDbfs[n]! < gate) continue;
    sounding++;
    if (Number.isNaN(track.hz[n]!)) continue;
    pitched++;
    if (track.hollow[n]! > 0) several++;
  }
  if (sounding * track.hopSec < SHORTEST_SEC || loudest < -80) {
    return { kind: 'silent', pitchedShare: 0, sentence: 'Too little sounds in it to measure its pitch.' };
  }
  const pitchedShare = pitched / sounding;
  const severalShare = pitched === 0 ? 0 : several / pitched;
  const percent = `${Math.round(100 * pitchedShare)} %`;
  if (severalShare >= SEVERAL_SHARE) {
    return {
      kind: 'several',
      pitchedShare,
      sentence: 'Several notes seem to sound at once; Partsong measures one at a time, so its pitch is not measured.',
    };
  }
  if (pitchedShare >= CLEAR_SHARE) return { kind: 'pitched', pitchedShare, sentence: 'One clear pitch at a time.' };
  if (pitchedShare < SOME_SHARE) {
    return {
      kind: 'unpitched',
      pitchedShare,
      sentence: `It has no clear pitch (only in ${percent} of its sound): drums, breath, speech or several notes at once; its pitch is not measured.`,
    };
  }
  return {
    kind: 'unsure',
    pitchedShare,
    sentence: `Only ${percent} of its sound has a clear pitch: breathy, noisy or with several notes at once; take its figures with care.`,
  };
}
