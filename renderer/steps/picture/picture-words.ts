import type { MadePictureView } from '../../../app/shell/contract/picture-view.ts';
import { type CanvasShape, canvasOfShape, SHAPES, type Size } from '../../../core/picture/canvas.ts';
import { figure } from '../../parts/numbers.ts';

/** Shorter sides of a canvas to choose from, px; the longer one of 4:3 and wider must not pass what can be rendered. */
export const shortSides = [720, 1080, 1440, 2160] as const;

/** The shape of a canvas; null for one that has none of the usual ones. */
export function nearestShape(canvas: Size): CanvasShape | null {
  const short = Math.min(canvas.widthPx, canvas.heightPx);
  const isNear = (shape: CanvasShape): boolean => {
    const usual = canvasOfShape(shape, short);
    return Math.abs(usual.widthPx - canvas.widthPx) <= 2 && Math.abs(usual.heightPx - canvas.heightPx) <= 2;
  };
  return SHAPES.find(isNear) ?? null;
}

/** How a finished video came out, in a sentence. */
export function madeSentence(made: MadePictureView): string {
  const { canvas, pictures, integratedLufs, truePeakDbtp, worstOffsetMs } = made;
  const size = `${canvas.widthPx} × ${canvas.heightPx} px, ${pictures} pictures`;
  const sound = `its sound is at ${figure(integratedLufs)} LUFS with a true peak of ${figure(truePeakDbtp)} dBTP`;
  return `${size}; ${sound}; picture and sound lie ${figure(worstOffsetMs)} ms apart at most by the plan.`;
}
