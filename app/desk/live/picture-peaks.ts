import { readFileSync } from 'node:fs';
import type { SessionSpan } from '../../../core/picture/picture-design.ts';
import { wavePeaks } from '../../../core/picture/wave-peaks.ts';
import { soundingTake } from '../../../core/session/passages.ts';
import type { Session } from '../../../core/session/schema.ts';
import { WAVE_LEVEL_FRAMES } from '../../shell/contract/media.ts';
import type { TakeProgress } from './take-state.ts';

/** The waveform pyramid of a take's sound; undefined until it is drawn. */
export type WaveOf = (takeId: string) => { path: string; pairs: readonly number[] } | undefined;

/** Bars of a drawn waveform. */
const PEAKS = 160;
const PAIR_BYTES = 4;

/** Shapes of the sound of voices whose take has no picture, by voice id. */
export function drawnPeaks(
  session: Session,
  span: SessionSpan,
  takes: readonly TakeProgress[],
  waveOf: WaveOf,
): Map<string, readonly number[]> {
  const peaks = new Map<string, readonly number[]>();
  for (const voice of session.voices) {
    const take = soundingTake(session, voice);
    const taken = takes.find(({ id }) => id === take?.id)?.taken;
    const wave = take === undefined ? undefined : waveOf(take.id);
    if (take?.placement == null || taken === undefined || taken.hasPicture || wave === undefined) continue;
    const pairSec = WAVE_LEVEL_FRAMES[0] / taken.rateHz;
    const bytes = readFileSync(wave.path);
    const pairs = new Int16Array(bytes.buffer.slice(bytes.byteOffset, bytes.byteOffset + wave.pairs[0]! * PAIR_BYTES));
    peaks.set(voice.id, wavePeaks(pairs, pairSec, take.placement, span, PEAKS));
  }
  return peaks;
}
