import { usualCrop } from '../../../core/picture/clip-chain.ts';
import { cutFor } from '../../../core/picture/crop.ts';
import { waveBox } from '../../../core/picture/drawings.ts';
import { nameOf } from '../../../core/picture/lay-drawings.ts';
import { boxAt, largestOf, opacityAt, restingBoxes } from '../../../core/picture/tile-path.ts';
import { type PictureModel, type PictureTile, pictureInBox } from './picture-model.ts';

/** The title comes and goes within this, s; as core/picture lays it. */
const TITLE_FADE_SEC = 0.6;

/** How much of the title and of black is seen at a session time, 0 to 1. */
export function coversAt(
  model: Pick<PictureModel, 'picture' | 'span'>,
  sessionSec: number,
): { title: number; black: number } {
  const { picture, span } = model;
  const sec = sessionSec - span.fromSec;
  const left = span.toSec - sessionSec;
  const { inSec, outSec } = picture.fade;
  const comes = inSec > 0 && sec >= 0 ? Math.max(0, 1 - sec / inSec) : 0;
  const goes = outSec > 0 && left >= 0 ? Math.max(0, 1 - left / outSec) : 0;
  return { title: titleAt(picture.title?.lengthSec ?? 0, sec), black: Math.max(comes, goes) };
}

function titleAt(lengthSec: number, sec: number): number {
  // Before the video begins the card is shown, so that it can be looked at.
  if (sec < 0) return lengthSec > 0 ? 1 : 0;
  const fade = Math.min(TITLE_FADE_SEC, lengthSec / 3);
  if (lengthSec === 0 || sec > lengthSec) return 0;
  return Math.min(1, sec / fade, (lengthSec - sec) / fade);
}

/**
 * Brings what moves on the canvas besides the clips' own pictures to a session time: tiles that grow, come and go, title,
 * fades, the lines along waveforms. besides: the voice whose tile is being dragged.
 */
export function paintAt(
  surface: HTMLElement,
  model: PictureModel,
  sessionSec: number,
  scale: number,
  besides: string | null = null,
): void {
  const { title, black } = coversAt(model, sessionSec);
  set(surface.querySelector<HTMLElement>('.picture-title'), 'opacity', title.toFixed(3));
  set(surface.querySelector<HTMLElement>('.picture-black'), 'opacity', black.toFixed(3));
  const { fromSec, toSec } = model.span;
  const share = Math.max(0, Math.min(1, (sessionSec - fromSec) / (toSec - fromSec)));
  const wave = waveBox({ widthPx: 1000, heightPx: 1000 });
  const left = `${((wave.xPx + wave.widthPx * share) / 10).toFixed(2)}%`;
  for (const line of surface.querySelectorAll<HTMLElement>('.picture-line')) set(line, 'left', left);
  for (const tile of model.tiles) {
    const element = surface.querySelector<HTMLElement>(`.picture-tile[data-voice="${CSS.escape(tile.voiceId)}"]`);
    if (element !== null && tile.voiceId !== besides) paintTile(element, tile, model, sessionSec, scale);
  }
}

/** A tile is laid out for its usual box and stretched to where it lies now; its clip is cut anew for that shape. */
function paintTile(
  element: HTMLElement,
  tile: PictureTile,
  { picture }: PictureModel,
  sessionSec: number,
  scale: number,
): void {
  const { box, path } = tile;
  const now = boxAt(path, sessionSec);
  const across = now.widthPx / box.widthPx;
  const down = now.heightPx / box.heightPx;
  const shift = [now.xPx - box.xPx, now.yPx - box.yPx].map((px) => `${(px * scale).toFixed(2)}px`).join(', ');
  const isHome =
    now.widthPx === box.widthPx && now.heightPx === box.heightPx && now.xPx === box.xPx && now.yPx === box.yPx;
  set(element, 'transform', isHome ? 'none' : `translate(${shift}) scale(${across.toFixed(5)}, ${down.toFixed(5)})`);
  set(element, 'opacity', opacityAt(path, sessionSec).toFixed(3));
  // What moved once is brought back when it does no more.
  const moves = path.steps.length > 0;
  if (!moves && element.dataset['moved'] === undefined) return;
  if (moves) element.dataset['moved'] = '';
  else delete element.dataset['moved'];
  for (const [index, video] of [...element.querySelectorAll<HTMLElement>('.picture-video')].entries()) {
    const clip = tile.clips[index];
    if (clip === undefined) continue;
    const at = pictureInBox(clip.shown, cutFor(clip.shown, now, tile.choice.crop ?? usualCrop(clip.shown, now)));
    for (const side of ['left', 'top', 'width', 'height'] as const) set(video, side, `${(100 * at[side]).toFixed(3)}%`);
  }
  const drawn = element.querySelector<HTMLElement>('.picture-drawn');
  if (drawn !== null) {
    // Cut, not stretched: as large as it must be to fill the tile.
    const whole = largestOf(restingBoxes(path));
    const fills = Math.max(now.widthPx / whole.widthPx, now.heightPx / whole.heightPx);
    set(
      drawn,
      'transform',
      `scale(${((fills * whole.widthPx) / now.widthPx).toFixed(4)}, ${((fills * whole.heightPx) / now.heightPx).toFixed(4)})`,
    );
  }
  const name = element.querySelector<HTMLElement>('.picture-name');
  if (name === null) return;
  const { at } = nameOf({ voice: { name: tile.name }, path }, picture.canvas);
  const [x, y] = at(now);
  set(name, 'left', `${(((x - now.xPx) * scale) / across).toFixed(2)}px`);
  set(name, 'top', `${(((y - now.yPx) * scale) / down).toFixed(2)}px`);
  set(name, 'transformOrigin', '0 0');
  set(name, 'transform', `scale(${(1 / across).toFixed(5)}, ${(1 / down).toFixed(5)})`);
}

type Painted = 'opacity' | 'left' | 'top' | 'width' | 'height' | 'transform' | 'transformOrigin';

function set(element: HTMLElement | null, name: Painted, value: string): void {
  if (element !== null && element.style[name] !== value) element.style[name] = value;
}
