import type { SessionSpan } from '../../../core/picture/picture-design.ts';
import { levelsOnSession, soloStretches, type VoiceLevels } from '../../../core/picture/solo-stretches.ts';
import { clockOf, sessionSecOf } from '../../../core/signal/clock.ts';
import { NO_SOUND_LUFS } from '../../work/tasks/measure-take.ts';
import type { ReadyTake } from '../composed-voice.ts';
import { loudnessOf, placementOf } from '../composed-voice.ts';
import type { RenderPart } from '../render-mix.ts';

/** Where voices of a mix sound alone or clearly lead, by voice id, session time, from what was measured for the blend. */
export function solosOf(
  parts: readonly (RenderPart & Partial<Pick<ReadyTake, 'loudness'>>)[],
): Map<string, readonly SessionSpan[]> {
  const levels = parts.flatMap((part): VoiceLevels[] => {
    const { voice, composed } = part;
    const loudness = composed == null ? part.loudness : loudnessOf(composed);
    if (loudness === undefined || voice.muted || loudness.integratedLufs === null) return [];
    const clock = clockOf(composed == null ? part.placement : placementOf(composed));
    const momentary = loudness.momentaryLufs.map((lufs) => (lufs <= NO_SOUND_LUFS ? Number.NEGATIVE_INFINITY : lufs));
    return [
      {
        voiceId: voice.id,
        levelsLu: levelsOnSession(momentary, loudness.integratedLufs, (sec) => sessionSecOf(clock, sec)),
      },
    ];
  });
  return soloStretches(levels);
}
