import type { BlendView, TakeFacts } from '../../../app/shell/contract/desk-view.ts';
import type { Session, Voice } from '../../../core/session/schema.ts';
import { stripOf } from '../../../core/session/strip-of.ts';
import { initialsOf } from './stage-geometry.ts';

/** A voice with all the blend knows of it. */
export interface BlendedVoice {
  readonly voice: Voice;
  readonly initials: string;
  /** What the blend found; null until it did. */
  readonly found: BlendView['voices'][number] | null;
  /** Where it stands, degrees; the blend's place or the hand's. */
  readonly placeDeg: number;
  /** The gain it goes into the mix with, dB; null until the blend found one. */
  readonly gainDb: number | null;
  /** Gated loudness as recorded and as it goes into the mix (before the master gain), LUFS; null until measured. */
  readonly recordedLufs: number | null;
  readonly mixedLufs: number | null;
}

/** The voices of a session in the order of the score, with what the blend knows of each. */
export function blendedVoices(
  session: Session,
  blend: BlendView | null,
  takes: Readonly<Record<string, TakeFacts>>,
): BlendedVoice[] {
  const letters = initialsOfAll(session.voices.map((voice) => voice.name));
  return session.voices.map((voice, n) => {
    const found = blend?.voices.find((one) => one.voiceId === voice.id) ?? null;
    const recordedLufs = found === null ? null : (takes[found.takeId]?.integratedLufs ?? null);
    const gainDb = found === null ? null : stripOf(voice, found).gainDb;
    return {
      voice,
      initials: letters[n]!,
      found,
      placeDeg: voice.placeDeg ?? found?.placeDeg ?? 0,
      gainDb,
      recordedLufs,
      mixedLufs: recordedLufs === null || gainDb === null ? null : recordedLufs + gainDb,
    };
  });
}

/** Letters for each name; names that would share them get their number in the score instead of the second one. */
export function initialsOfAll(names: readonly string[]): string[] {
  const plain = names.map(initialsOf);
  return plain.map((letters, n) => {
    const isShared = plain.some((other, m) => m !== n && other === letters);
    return isShared ? `${[...letters][0]!}${n + 1}` : letters;
  });
}

/** Whether a voice is moved away from what the blend found. */
export function isMoved(voice: Voice): boolean {
  return voice.trimDb !== 0 || voice.placeDeg !== null;
}
