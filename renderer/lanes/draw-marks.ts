import { markShades } from './draw-bars.ts';
import type { Drawing } from './draw-lane.ts';
import type { Lane, Stretch } from './lane-scene.ts';
import { secToPixel } from './time-view.ts';

/** A silence narrower than that, CSS pixels, is shaded without words. */
const LEAST_SILENCE_PX = 14;
/** A letter is about so wide, CSS pixels. */
const LETTER_PX = 6.2;
/** The same word stands no closer than that again, CSS pixels: marks say where, the word only what. */
const WORD_AGAIN_PX = 260;
/** In lower lanes, CSS pixels, the music has its bracket without the word. */
const MUSIC_WORD_FROM_PX = 50;

/** What is marked in a lane: clap, clipped spots, music and silence, with the words for them. */
export function drawMarks(drawing: Drawing, lane: Lane, top: number, height: number): void {
  const { sheet, view, palette, dpr, labels } = drawing;
  const { css } = palette;
  const taken = new Shelf();
  const upper = top + 9 * dpr;
  const lower = top + height - 9 * dpr;
  const isSmall = height < 40 * dpr;
  if (lane.words !== null) {
    const isWrong = lane.facts?.state === 'missing' || lane.facts?.state === 'faulty';
    const colour = isWrong ? css.wrong : css.faint;
    labels.push({
      x: 14 * dpr,
      y: top + height / 2,
      text: lane.words,
      colour,
      room: 0,
      strong: isWrong,
      boxed: isWrong,
    });
  }
  if (lane.clapSec !== null) {
    const x = Math.round(secToPixel(view, lane.clapSec));
    sheet.fill(x, top, x + Math.max(1, Math.round(dpr)), top + height, palette.mark);
    for (let n = 0; n < 6 * dpr; n++)
      sheet.fill(x - 6 * dpr + n, top + n, x + 6 * dpr - n + dpr, top + n + 1, palette.mark);
    if (taken.put(x, x + 44 * dpr)) {
      labels.push({ x: x + 9 * dpr, y: upper, text: 'clap', colour: css.mark, room: 0, strong: true });
    }
  }
  let wordFrom = Number.NEGATIVE_INFINITY;
  for (const spot of lane.clipped) {
    const left = secToPixel(view, spot.fromSec);
    const right = Math.max(left + 2 * dpr, secToPixel(view, spot.toSec));
    if (right < 0 || left > view.widthPx) continue;
    sheet.fill(left, top + dpr, right, top + 4 * dpr, palette.wrong);
    sheet.fill(left, top + height - 4 * dpr, right, top + height - dpr, palette.wrong);
    if (!isSmall && left >= wordFrom && taken.put(left, left + 52 * dpr)) {
      wordFrom = Math.max(0, left) + WORD_AGAIN_PX * dpr;
      labels.push({ x: left, y: upper + 3 * dpr, text: 'clipped', colour: css.wrong, room: 0, strong: true });
    }
  }
  const below = new Shelf();
  if (lane.music !== null) {
    const left = secToPixel(view, lane.music.fromSec);
    const right = secToPixel(view, lane.music.toSec);
    const y = Math.round(top + height - 4 * dpr);
    sheet.fill(left, y, right, y + dpr, palette.faint);
    sheet.fill(left, y - 4 * dpr, left + dpr, y, palette.faint);
    sheet.fill(right - dpr, y - 4 * dpr, right, y, palette.faint);
    const seen = Math.max(0, left);
    const room = Math.min(view.widthPx, right) - seen - 10 * dpr;
    if (height >= MUSIC_WORD_FROM_PX * dpr && below.put(seen, seen + 46 * dpr)) {
      labels.push({ x: seen + 5 * dpr, y: lower - 3 * dpr, text: 'music', colour: css.faint, room, strong: false });
    }
  }
  if (lane.shades !== undefined) markShades(drawing, lane.shades, top, top + height);
  if (lane.silence !== null) writeSilence(drawing, lane.silence, lower - 1 * dpr, below);
}

/** The words of a silence; where the whole of them has no room in it, the first one, which may reach out a little. */
function writeSilence(drawing: Drawing, silence: Stretch & { readonly label: string }, y: number, below: Shelf): void {
  const { view, dpr, labels, palette } = drawing;
  const left = Math.max(0, secToPixel(view, silence.fromSec));
  const right = Math.min(view.widthPx, secToPixel(view, silence.toSec));
  const least = LEAST_SILENCE_PX * dpr;
  if (right - left < least) return;
  const { label } = silence;
  const words = label.length * LETTER_PX * dpr <= right - left ? label : `silence${label.includes('?') ? '?' : ''}`;
  const end = left + (words.length * LETTER_PX + 6) * dpr;
  if (!below.put(left, Math.max(right, end))) return;
  labels.push({ x: left + 4 * dpr, y, text: words, colour: palette.css.ink, room: 0, strong: false });
}

/** Keeps words of one line from lying over each other. */
class Shelf {
  private readonly spans: [number, number][] = [];

  /** Takes the room, and tells whether it was free. */
  put(from: number, to: number): boolean {
    if (this.spans.some(([left, right]) => from < right && to > left)) return false;
    this.spans.push([from, to]);
    return true;
  }
}
