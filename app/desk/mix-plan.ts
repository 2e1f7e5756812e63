import type { Session } from '../../core/session/schema.ts';
import { SESSION_RATE_HZ } from '../../core/signal/time.ts';
import { type BlendedVoice, blend, mixSpan, type VoiceSound } from './blend.ts';
import { loudnessOf, placementOf, type ReadyTake } from './composed-voice.ts';
import { type RenderPart, type RenderPlan, sessionLength } from './render-mix.ts';

/** What a plan needs besides what the session and its takes tell. */
export type PlanChoices = Pick<RenderPlan, 'wave' | 'copy' | 'stems'>;

/** A voice that is heard, before it is blended with the others. */
export type HeardPart = Omit<RenderPart, 'blended'> & ReadyTake;

/** Blends the voices that are heard, whether with one take or with passages: screen and command line have this one rule. */
export function blendParts(parts: readonly HeardPart[], { guide }: Pick<Session, 'guide'>): RenderPart[] {
  const blended = blend(parts.map(soundForBlend), guide?.plan ?? null);
  return parts.map((part, index): RenderPart => ({ ...part, blended: blended[index]! }));
}

function soundForBlend({ voice, loudness, placement, composed }: HeardPart): VoiceSound {
  if (composed == null) return { voice, loudness, placement };
  return { voice, loudness: loudnessOf(composed), placement: placementOf(composed) };
}

/** What a render of these parts is made from. */
export function planOf(
  session: Session,
  parts: readonly RenderPart[],
  choices: PlanChoices,
  notes: readonly string[] = [],
): RenderPlan {
  const lengthFrames = sessionLength(parts);
  const voices = parts.map(({ voice }) => voice);
  const blended: BlendedVoice[] = parts.map((part) => part.blended);
  return {
    ...choices,
    title: session.title,
    parts,
    lengthFrames,
    span: mixSpan(voices, blended, lengthFrames / SESSION_RATE_HZ) ?? null,
    targetLufs: session.mix.targetLufs,
    ceilingDbtp: session.mix.ceilingDbtp,
    notes,
  };
}
