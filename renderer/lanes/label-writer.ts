import type { Label } from './draw-lane.ts';
import type { Palette } from './palette.ts';

/** Where words are written, device pixels. */
export interface LabelPlace {
  /** So many labels, the first ones, are of the head. */
  readonly headLabels: number;
  readonly headEnd: number;
  readonly guideTop: number;
  readonly widthPx: number;
  readonly palette: Palette;
  readonly dpr: number;
}

const MOST_WIDTHS = 2000;

/** Writes the words of a drawing over its pixels. Remembers how wide words are, since measuring them costs the most. */
export class LabelWriter {
  readonly #widths = new Map<string, number>();

  /** Words are another size now. */
  forget(): void {
    this.#widths.clear();
  }

  write(context: CanvasRenderingContext2D, labels: readonly Label[], place: LabelPlace): void {
    const { headLabels, headEnd, guideTop, palette, dpr } = place;
    context.textBaseline = 'middle';
    let lastFont = '';
    labels.forEach((label, n) => {
      // Words of lanes that are half under the head are left out rather than cut.
      if (n >= headLabels && label.y < headEnd + 6 * dpr) return;
      const font = `${label.strong ? '600 ' : ''}${11 * dpr}px ${palette.css.text}`;
      if (lastFont !== font) context.font = font;
      lastFont = font;
      const { text } = label;
      const width = this.#widthOf(context, text, label.strong);
      if (label.room !== 0 && width > label.room) return;
      if (label.x + width < 0 || label.x > place.widthPx) return;
      // A time that the edge would cut through reads as another one: "0:5" for 0:50.
      if (n < headLabels && label.x + width > place.widthPx) return;
      if (label.boxed === true) {
        context.fillStyle = palette.css.sheet;
        context.fillRect(label.x - 7 * dpr, label.y - 11 * dpr, width + 14 * dpr, 22 * dpr);
      } else if (n >= headLabels || label.y > guideTop) {
        context.lineWidth = 3 * dpr;
        context.lineJoin = 'round';
        context.strokeStyle = palette.css.sheet;
        context.strokeText(text, label.x, label.y);
      }
      context.fillStyle = label.colour;
      context.fillText(text, label.x, label.y);
    });
  }

  #widthOf(context: CanvasRenderingContext2D, text: string, strong: boolean): number {
    const key = `${strong ? 1 : 0}${text}`;
    let width = this.#widths.get(key);
    if (width === undefined) {
      if (this.#widths.size > MOST_WIDTHS) this.#widths.clear();
      width = context.measureText(text).width;
      this.#widths.set(key, width);
    }
    return width;
  }
}
