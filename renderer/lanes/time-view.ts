import { SESSION_RATE_HZ } from '../../core/signal/time.ts';

/** Closest zoom: so many CSS pixels for one sample. */
const WIDEST_SAMPLE_PX = 40;

/**
 * What part of the time line is on the screen. `leftFrame` is a session frame (48 kHz, fractions allowed) at CSS pixel 0,
 * `framesPerPx` frames a CSS pixel, `widthPx` the width in CSS pixels.
 */
export interface TimeView {
  readonly leftFrame: number;
  readonly framesPerPx: number;
  readonly widthPx: number;
}

/** From the first to the last frame that can be shown, session frames. */
export interface Extent {
  readonly fromFrame: number;
  readonly toFrame: number;
}

/** Session frame at CSS pixel x. */
export function frameAt(view: TimeView, x: number): number {
  return view.leftFrame + x * view.framesPerPx;
}

/** CSS pixel of a session frame. */
export function pixelOf(view: TimeView, frame: number): number {
  return (frame - view.leftFrame) / view.framesPerPx;
}

/** Where a session time lies, s; pixels of the view. */
export function secToPixel(view: TimeView, sec: number): number {
  return pixelOf(view, sec * SESSION_RATE_HZ);
}

/** The widest zoom, the one that shows the whole extent, frames a pixel. */
export function wholeFramesPerPx(extent: Extent, widthPx: number): number {
  return Math.max(1, extent.toFrame - extent.fromFrame) / Math.max(1, widthPx);
}

/** The view brought back into what can be shown: neither wider than the whole nor closer than one sample, nor beyond an end. */
export function kept(view: TimeView, extent: Extent): TimeView {
  const whole = wholeFramesPerPx(extent, view.widthPx);
  const framesPerPx = Math.min(whole, Math.max(1 / WIDEST_SAMPLE_PX, view.framesPerPx));
  const last = extent.toFrame - framesPerPx * view.widthPx;
  return {
    leftFrame: Math.max(extent.fromFrame, Math.min(last, view.leftFrame)),
    framesPerPx,
    widthPx: view.widthPx,
  };
}

/** Zooms by a factor (above 1: closer) so that the time at CSS pixel x stays where it is. */
export function zoomedAt(view: TimeView, extent: Extent, x: number, factor: number): TimeView {
  const framesPerPx = kept({ ...view, framesPerPx: view.framesPerPx / factor }, extent).framesPerPx;
  return kept({ ...view, framesPerPx, leftFrame: frameAt(view, x) - x * framesPerPx }, extent);
}

/** Moves the view by CSS pixels (positive: later). */
export function movedBy(view: TimeView, extent: Extent, px: number): TimeView {
  return kept({ ...view, leftFrame: view.leftFrame + px * view.framesPerPx }, extent);
}

/** The view that shows a stretch with a twelfth of the width free on both sides. */
export function showing(view: TimeView, extent: Extent, fromFrame: number, toFrame: number): TimeView {
  const framesPerPx = kept({ ...view, framesPerPx: (1.2 * (toFrame - fromFrame)) / view.widthPx }, extent).framesPerPx;
  const middle = (fromFrame + toFrame) / 2;
  return kept({ ...view, framesPerPx, leftFrame: middle - (framesPerPx * view.widthPx) / 2 }, extent);
}

/** How close the zoom is, 0 (the whole) to 1 (one sample), on a logarithmic scale; for the slider. */
export function closeness(framesPerPx: number, whole: number): number {
  const range = Math.log(whole * WIDEST_SAMPLE_PX);
  return range <= 0 ? 0 : Math.max(0, Math.min(1, Math.log(whole / framesPerPx) / range));
}

/** The inverse of `closeness`: frames a pixel. */
export function framesPerPxAt(close: number, whole: number): number {
  return whole / (whole * WIDEST_SAMPLE_PX) ** Math.max(0, Math.min(1, close));
}

/** How following the playback moves the view. */
export type Follow = 'off' | 'pages' | 'smoothly';

/**
 * The view that follows a playback line. By pages: when the line leaves the view (or its last twentieth) it comes back
 * near the left edge; smoothly: it stays at two fifths of the width.
 */
export function following(view: TimeView, extent: Extent, frame: number, follow: Follow): TimeView {
  const x = pixelOf(view, frame);
  switch (follow) {
    case 'off':
      return view;
    case 'pages':
      if (x >= 0 && x <= 0.95 * view.widthPx) return view;
      return kept({ ...view, leftFrame: frame - 0.06 * view.widthPx * view.framesPerPx }, extent);
    case 'smoothly':
      return kept({ ...view, leftFrame: frame - 0.4 * view.widthPx * view.framesPerPx }, extent);
  }
}

/**
 * The scrollbar of the time line: a native one is at most MOST_PX wide inside (browsers cut off wider boxes), so that
 * its position maps to the time line by a share.
 */
export function scrollbarOf(view: TimeView, extent: Extent): { readonly insidePx: number; readonly leftPx: number } {
  const MOST_PX = 1_000_000;
  const wholePx = (extent.toFrame - extent.fromFrame) / view.framesPerPx;
  const insidePx = Math.max(view.widthPx, Math.min(MOST_PX, wholePx));
  const room = extent.toFrame - extent.fromFrame - view.widthPx * view.framesPerPx;
  const share = room <= 0 ? 0 : (view.leftFrame - extent.fromFrame) / room;
  return { insidePx, leftPx: share * (insidePx - view.widthPx) };
}

/** The left frame a scrollbar's position stands for. */
export function leftFrameOfScrollbar(view: TimeView, extent: Extent, leftPx: number, insidePx: number): number {
  const room = extent.toFrame - extent.fromFrame - view.widthPx * view.framesPerPx;
  const travel = insidePx - view.widthPx;
  return travel <= 0 ? extent.fromFrame : extent.fromFrame + (leftPx / travel) * Math.max(0, room);
}
