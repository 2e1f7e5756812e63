import { faintestDbfs } from './heard-notes.ts';
import { medianOf } from './pitch-span.ts';
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
/** Power in the partials of the best pitch: of one instrument 0.8 and more, of several notes less, of noise next to nothing. */
const SEVERAL_SHARE = 0.7;
/** Least normalised difference of frames that hold tones of some kind; noise and drums stay above. */
const TONAL_ROUGHNESS = 0.5;
const SHORTEST_SEC = 0.5;

/** Looks at the frames in which something sounds. */
export function pitchVerdict(track: PitchTrack): PitchVerdict {
  const sorted = [...track.levelsDbfs].sort((a, b) => a - b);
  const loudest = sorted[Math.floor(0.98 * (sorted.length - 1))] ?? Number.NEGATIVE_INFINITY;
  const floor = sorted[Math.floor(0.03 * (sorted.length - 1))] ?? Number.NEGATIVE_INFINITY;
  const gate = Math.max(loudest - 30, Math.min(floor + 6, loudest - 10), faintestDbfs(track) - 20);
  let sounding = 0;
  let pitched = 0;
  const shares: number[] = [];
  const roughness: number[] = [];
  for (let n = 0; n < track.hz.length; n++) {
    if (track.levelsDbfs[n]! < gate) continue;
    sounding++;
    roughness.push(track.roughness[n]!);
    if (Number.isNaN(track.hz[n]!)) continue;
    pitched++;
    shares.push(track.shares[n]!);
  }
  if (sounding * track.hopSec < SHORTEST_SEC || loudest < -80) {
    return { kind: 'silent', pitchedShare: 0, sentence: 'Too little sounds in it to measure its pitch.' };
  }
  const pitchedShare = pitched / sounding;
  const share = shares.length === 0 ? 0 : medianOf(shares);
  const rough = medianOf(roughness);
  if (pitchedShare >= CLEAR_SHARE && share >= SEVERAL_SHARE) {
    return { kind: 'pitched', pitchedShare, sentence: 'One clear pitch at a time.' };
  }
  const percent = `${Math.round(100 * pitchedShare)} %`;
  if (rough < TONAL_ROUGHNESS && (share < SEVERAL_SHARE || pitchedShare < SOME_SHARE)) {
    return {
      kind: 'several',
      pitchedShare,
      sentence: `Several notes seem to sound at once (one clear pitch in ${percent} of its sound); its pitch is not measured.`,
    };
  }
  if (pitchedShare < SOME_SHARE) {
    return {
      kind: 'unpitched',
      pitchedShare,
      sentence: `It has no clear pitch (only in ${percent} of its sound): drums, breath or speech; its pitch is not measured.`,
    };
  }
  return {
    kind: 'unsure',
    pitchedShare,
    sentence: `Only ${percent} of its sound has a clear pitch: breathy, noisy or with several notes at once; take its figures with care.`,
  };
}
