import { type Box, evenPx, type Size } from './canvas.ts';

/**
 * Cuts the canvas into one cell a tile, each holding its tile whole, by straight cuts from edge to edge that meet no tile
 * (guillotine cuts). Such cells can be stacked, which costs FFmpeg less than laying tiles over a ground one by one.
 * undefined where no such cuts exist (tiles that overlap, or interlock like a windmill). Cells are even.
 */
export function cellsFor(canvas: Size, boxes: readonly Box[]): Box[] | undefined {
  const cells: Box[] = new Array<Box>(boxes.length);
  const whole: Box = { xPx: 0, yPx: 0, ...canvas };
  const all = boxes.map((_, index) => index);
  return boxes.length > 0 && cut(whole, all, boxes, cells) ? cells : undefined;
}

function cut(area: Box, members: readonly number[], boxes: readonly Box[], cells: Box[]): boolean {
  if (members.length === 1) {
    cells[members[0]!] = area;
    return true;
  }
  for (const down of [true, false]) {
    const from = (index: number): number => (down ? boxes[index]!.yPx : boxes[index]!.xPx);
    const to = (index: number): number => from(index) + (down ? boxes[index]!.heightPx : boxes[index]!.widthPx);
    const sorted = members.toSorted((one, other) => from(one) - from(other));
    let reach = to(sorted[0]!);
    for (let n = 1; n < sorted.length; n++) {
      const next = from(sorted[n]!);
      if (next >= reach) {
        const at = Math.min(next, Math.max(reach, evenPx((reach + next) / 2)));
        const [first, second] = halves(area, at, down);
        return cut(first, sorted.slice(0, n), boxes, cells) && cut(second, sorted.slice(n), boxes, cells);
      }
      reach = Math.max(reach, to(sorted[n]!));
    }
  }
  return false;
}

function halves(area: Box, atPx: number, down: boolean): [Box, Box] {
  if (down) {
    const heightPx = atPx - area.yPx;
    return [
      { ...area, heightPx },
      { ...area, yPx: atPx, heightPx: area.heightPx - heightPx },
    ];
  }
  const widthPx = atPx - area.xPx;
  return [
    { ...area, widthPx },
    { ...area, xPx: atPx, widthPx: area.widthPx - widthPx },
  ];
}
