import { LoudnessMeter } from '../../core/loudness/loudness.ts';
import type { SessionSpan } from '../../core/picture/picture-design.ts';
import { levelsOnSession, soloStretches, type VoiceLevels } from '../../core/picture/solo-stretches.ts';
import { soundingTake } from '../../core/session/passages.ts';
import { clockOf, sessionSecOf } from '../../core/signal/clock.ts';
import { decode } from '../media/decode.ts';
import type { MixedSession, SeenTake } from './session-pictures.ts';

/**
 * Where voices of a session sound alone or clearly lead, by voice id, session time, from the loudness of the takes they
 * sound with. Reads each clip's sound once; memory: ten numbers a second.
 */
export async function solosOfSession(
  { session }: MixedSession,
  takes: ReadonlyMap<string, SeenTake>,
  signal?: AbortSignal,
): Promise<Map<string, readonly SessionSpan[]>> {
  const levels: VoiceLevels[] = [];
  for (const voice of session.voices) {
    const seen = takes.get(soundingTake(session, voice)?.id ?? '');
    if (seen === undefined || seen.take.placement === null || voice.muted) continue;
    const { rateHz, channels } = seen.facts.chosenAudio;
    const meter = new LoudnessMeter({ rateHz, channels, curves: true, truePeak: 'off' });
    for await (const block of decode(seen.clipPath, seen.facts, { signal })) meter.add(block);
    const { integratedLufs, curves } = meter.result();
    const clock = clockOf(seen.take.placement);
    const levelsLu = levelsOnSession(curves?.momentaryLufs ?? [], integratedLufs, (sec) => sessionSecOf(clock, sec));
    levels.push({ voiceId: voice.id, levelsLu });
  }
  return soloStretches(levels);
}
