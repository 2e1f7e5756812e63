import type { Box } from '../canvas.ts';
import { cellOf } from './rows.ts';
import { boxInCell, share } from './shares.ts';

interface StripOptions {
  readonly gapPx: number;
  readonly mostCrop: number;
}

/** A strip cuts more than other tilings: of a flat clip a standing person is left. */
const STRIP_CROP = 0.75;

/** All tiles side by side, or one above the other, filling the area; and the same as wide as their clips are. */
export function strips(area: Box, aspects: readonly number[], { gapPx, mostCrop }: StripOptions): Box[][] {
  const most = Math.max(mostCrop, STRIP_CROP);
  const whole = [{ fromPx: area.yPx, lengthPx: area.heightPx }];
  const across = [{ fromPx: area.xPx, lengthPx: area.widthPx }];
  const alike = aspects.map(() => 1);
  return [alike, aspects].flatMap((weights) => [
    share(area.xPx, area.widthPx, gapPx, weights).map((part, index) =>
      boxInCell(cellOf(part, whole[0]!), aspects[index]!, most),
    ),
    share(area.yPx, area.heightPx, gapPx, weights === alike ? alike : aspects.map((aspect) => 1 / aspect)).map(
      (part, index) => boxInCell(cellOf(across[0]!, part), aspects[index]!, most),
    ),
  ]);
}
