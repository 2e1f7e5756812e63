import { type PictureRate, perSecond, rateForClips, rateInWords, USUAL_RATES } from './picture-rate.ts';
import { bestPhase, isSteady, type PlacedPicture, worstOffsetSec } from './picture-time.ts';

/** Picture and sound of a tile lie no farther apart than this where the rate is chosen here, s: a fourth of what is noticed. */
export const WANTED_OFFSET_SEC = 0.01;
/** Kept free for what containers round (1 ms steps of Matroska) and the sound's own steps, s. */
const SPARE_SEC = 0.0005;

/** A clip on the canvas and the name of the voice whose tile it fills. */
export interface NamedClip extends PlacedPicture {
  readonly name: string;
}

/** The rate of a canvas, and what was weighed. */
export interface RateChoice {
  readonly rate: PictureRate;
  /** 'hand': it was given; 'clips': that of the fastest clip; 'sync': a higher one, so that picture and sound keep together. */
  readonly by: 'hand' | 'clips' | 'sync';
  /** For 'sync': what the rate of the fastest clip would have cost. */
  readonly instead: { readonly rate: PictureRate; readonly name: string; readonly offsetSec: number } | null;
}

/**
 * The rate of a canvas: the one given, else the lowest of the usual ones (`USUAL_RATES`) not below the fastest clip's at
 * which every tile's picture lies within 10 ms of its sound by the plan, else 60, or 59.94 where clips are of that family.
 * A higher rate repeats pictures: 60 for clips of 30 was measured to take
 * 27 % more time to code (x264, 720p) and 6 % less room.
 */
export function chooseRate(
  given: PictureRate | null,
  clips: readonly NamedClip[],
  span: { readonly fromSec: number; readonly toSec: number },
): RateChoice {
  if (given !== null) return { rate: given, by: 'hand', instead: null };
  const own = rateForClips(clips.map(({ picture }) => picture.rate));
  const first = worstOf(clips, span, own);
  const limitSec = WANTED_OFFSET_SEC - SPARE_SEC;
  if (first.offsetSec <= limitSec) return { rate: own, by: 'clips', instead: null };
  const higher = USUAL_RATES.filter((rate) => rate.under === own.under && perSecond(rate) > perSecond(own));
  const rate = higher.find((one) => worstOf(clips, span, one).offsetSec <= limitSec) ?? higher.at(-1) ?? own;
  return rate === own
    ? { rate, by: 'clips', instead: null }
    : { rate, by: 'sync', instead: { rate: own, name: first.name, offsetSec: first.offsetSec } };
}

/** The clip whose picture would lie farthest from its sound, with the best beginning of the video for a rate. */
function worstOf(
  clips: readonly NamedClip[],
  { fromSec, toSec }: { readonly fromSec: number; readonly toSec: number },
  rate: PictureRate,
): { name: string; offsetSec: number } {
  // Where one slides it costs half a picture whatever the others do.
  const sliding = clips.find(({ picture }) => !isSteady(picture, rate));
  if (sliding !== undefined) return { name: sliding.name, offsetSec: 0.5 / perSecond(rate) };
  const at = bestPhase(fromSec, toSec, rate, clips);
  let worst = { name: '', offsetSec: 0 };
  for (const clip of clips) {
    const offsetSec = worstOffsetSec(clip, { fromSec: at, toSec }, rate);
    if (offsetSec > worst.offsetSec) worst = { name: clip.name, offsetSec };
  }
  return worst;
}

/** Why a rate was chosen, a sentence; undefined where there is nothing to tell. */
export function rateInSentence({ rate, by, instead }: RateChoice): string | undefined {
  if (by !== 'sync' || instead === null) return undefined;
  const ms = Number((instead.offsetSec * 1000).toFixed(instead.offsetSec < 0.0105 ? 1 : 0));
  return `${rateInWords(rate)}, since at ${Number(perSecond(instead.rate).toFixed(3))} the tile of ${instead.name} would be up to ${ms} ms off its sound. Pictures shown twice take about a fourth more time to code, and no more room.`;
}
