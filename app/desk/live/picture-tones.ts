import type { ClipPicture } from '../../../core/picture/clip-picture.ts';
import type { VoicePicture } from '../../../core/picture/picture-plan.ts';
import { matchTones, type ToneChange, type ToneMeasure } from '../../../core/picture/tone-match.ts';
import { measureTone } from '../../picture/measure-tone.ts';

/** What brings exposure and white balance of voices' clips nearer to one another; each clip is measured once. */
export class PictureTones {
  readonly #known = new Map<string, Promise<ToneMeasure | null>>();

  /** One a voice, in their order; null where nothing is to be changed. */
  async of(voices: readonly VoicePicture[], signal?: AbortSignal): Promise<(ToneChange | null)[]> {
    const measures: (ToneMeasure | null)[] = [];
    for (const { pieces } of voices) {
      // A voice's takes were filmed in one light.
      const clip = pieces.find(({ picture }) => picture !== null)?.picture ?? null;
      measures.push(clip === null ? null : await this.#measure(clip, signal));
    }
    return matchTones(measures);
  }

  #measure(clip: ClipPicture, signal: AbortSignal | undefined): Promise<ToneMeasure | null> {
    const key = `${clip.streamIndex} ${clip.endSec} ${clip.file}`;
    const known = this.#known.get(key);
    if (known !== undefined) return known;
    const measured = measureTone(clip, signal);
    this.#known.set(key, measured);
    measured.catch(() => this.#known.delete(key));
    return measured;
  }
}
