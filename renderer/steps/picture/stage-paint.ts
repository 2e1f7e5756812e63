import { waveBox } from '../../../core/picture/drawings.ts';
import type { PictureModel } from './picture-model.ts';

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

/** Brings what moves on the canvas besides the clips to a session time: title, fades, the lines along waveforms. */
export function paintAt(surface: HTMLElement, model: PictureModel, sessionSec: number): void {
  const { title, black } = coversAt(model, sessionSec);
  set(surface.querySelector<HTMLElement>('.picture-title'), 'opacity', title.toFixed(3));
  set(surface.querySelector<HTMLElement>('.picture-black'), 'opacity', black.toFixed(3));
  const { fromSec, toSec } = model.span;
  const share = Math.max(0, Math.min(1, (sessionSec - fromSec) / (toSec - fromSec)));
  const wave = waveBox({ widthPx: 1000, heightPx: 1000 });
  const left = `${((wave.xPx + wave.widthPx * share) / 10).toFixed(2)}%`;
  for (const line of surface.querySelectorAll<HTMLElement>('.picture-line')) set(line, 'left', left);
}

function set(element: HTMLElement | null, name: 'opacity' | 'left', value: string): void {
  if (element !== null && element.style[name] !== value) element.style[name] = value;
}
