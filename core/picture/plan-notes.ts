import { sessionSecOf } from '../signal/clock.ts';
import { type Size, sizeInWords } from './canvas.ts';
import type { TileSource } from './composition.ts';
import type { SessionSpan } from './picture-design.ts';
import type { PlannedTile } from './picture-plan.ts';
import { type PictureRate, perSecond, rateInWords } from './picture-rate.ts';
import { toneInWords } from './tone-match.ts';

/** A picture that begins so late or ends so early is not worth a word, s. */
const WORTH_TELLING_SEC = 0.1;
/** Published lip-sync limits are some 45 ms; what is told here is far inside, s. */
const OFFSET_WORTH_TELLING_SEC = 0.01;

/** What the user should know of the clips: begun late, ended early, no picture. */
export function clipNotes(tiles: readonly TileSource[], span: SessionSpan): string[] {
  const notes: string[] = [];
  for (const { voice, pieces } of tiles) {
    if (pieces.every(({ picture }) => picture === null)) {
      notes.push(`${voice.name} has no picture here; its tile shows its name and the shape of its sound.`);
    }
    if (voice.tone) notes.push(`${voice.name} is matched to the others: ${toneInWords(voice.tone)}.`);
    for (const { picture, place, fromSec, toSec } of pieces) {
      if (picture === null) continue;
      const late = sessionSecOf(place, picture.startSec) - Math.max(fromSec, span.fromSec);
      const early = Math.min(toSec, span.toSec) - sessionSecOf(place, picture.endSec);
      if (late > WORTH_TELLING_SEC) {
        notes.push(
          `${voice.name} begins ${late.toFixed(1)} s after the video; until then its first picture stands still.`,
        );
      }
      if (early > WORTH_TELLING_SEC) {
        notes.push(
          `${voice.name} ends ${early.toFixed(1)} s before the video; from then on its last picture stands still.`,
        );
      }
    }
  }
  return notes;
}

/** Decoded pictures that FFmpeg holds for a clip, and for the canvas: 25 clips at 2160p were measured to take 2.0 GB. */
const PICTURES_HELD = 6;
const CANVASES_HELD = 30;
/** Above this much memory for FFmpeg the user is told, bytes. */
const MUCH_MEMORY = 2 * 2 ** 30;

/** What a render costs where it is much, and how exact it will be. */
export function costNotes(
  planned: readonly PlannedTile[],
  tiles: readonly TileSource[],
  canvas: Size,
  rate: PictureRate,
): string[] {
  const notes: string[] = [];
  const coded = tiles.flatMap(({ pieces }) => pieces.flatMap(({ picture }) => (picture ? [picture.coded] : [])));
  const bytes = coded.reduce((sum, size) => sum + size.widthPx * size.heightPx * 1.5 * PICTURES_HELD, 0);
  const own = canvas.widthPx * canvas.heightPx * 1.5 * CANVASES_HELD;
  if (bytes + own > MUCH_MEMORY) {
    notes.push(
      `${coded.length} clips on ${sizeInWords(canvas)} need some ${Math.round((bytes + own) / 2 ** 30)} GB of memory for FFmpeg, and time; a smaller canvas, or smaller clips, need less.`,
    );
  }
  const worst = planned.toSorted((one, other) => other.worstOffsetSec - one.worstOffsetSec)[0];
  if (worst !== undefined && worst.worstOffsetSec > OFFSET_WORTH_TELLING_SEC) {
    const faster = perSecond(rate) < 45 ? '; at 60 pictures/s it is 8 ms at most' : '';
    notes.push(
      `At ${rateInWords(rate)} the tile of ${worst.name} is up to ${Math.round(worst.worstOffsetSec * 1000)} ms off its sound, which nobody sees${faster}.`,
    );
  }
  return notes;
}
