import { type Box, evenBelowPx, evenPx, type Size } from './canvas.ts';
import { CHANGE_SEC, COMING_SEC, type TileMoment } from './moments.ts';
import type { SessionSpan, TileDesign } from './picture-design.ts';

/** A tile goes to another box. */
export interface PathStep {
  /** When it begins to, session time, and how long it takes, s; 0: at once. */
  readonly atSec: number;
  readonly changeSec: number;
  readonly to: Box;
}

/** A stretch in which a tile is seen, and how long it takes to come and to go within it, s. Ends may be infinite. */
export interface SeenStretch extends SessionSpan {
  readonly comesSec: number;
  readonly goesSec: number;
}

/** Where a tile lies over time, and when it is seen. */
export interface TilePath {
  readonly first: Box;
  /** In order; one has ended before the next begins. */
  readonly steps: readonly PathStep[];
  /** null: always. */
  readonly seen: readonly SeenStretch[] | null;
}

/** A tile whose path is wanted. */
export interface PathTile {
  readonly design: TileDesign;
  /** Where it lies otherwise. */
  readonly box: Box;
}

/**
 * The paths of all tiles of a canvas. `leadBoxes`: the boxes of all tiles where the one of that number is large. Where
 * several are to be large at once, the one that became so last is.
 */
export function tilePaths(
  tiles: readonly PathTile[],
  span: SessionSpan,
  leadBoxes: (index: number) => readonly Box[],
): TilePath[] {
  const moving = tiles.map(({ design }) => (design.moments ?? []).filter(({ as }) => as !== 'away'));
  const all = moving.flat();
  const times = [...new Set(all.flatMap(({ fromSec, toSec }) => [fromSec, toSec]))]
    .filter((time) => time > span.fromSec && time < span.toSec)
    .sort((one, other) => one - other);
  const known = new Map<number, readonly Box[]>();
  const boxesAt = (sec: number): Box[] => {
    const lead = largeAt(moving, sec);
    if (lead !== undefined && !known.has(lead)) known.set(lead, leadBoxes(lead));
    const boxes = lead === undefined ? tiles.map(({ box }) => box) : known.get(lead)!;
    return boxes.map((box, index) => moving[index]!.find((one) => one.as === 'box' && holds(one, sec))?.box ?? box);
  };
  const layouts = times.map(boxesAt);
  const starts = boxesAt(span.fromSec);
  const soft = times.map((time) => all.some((one) => one.soft && (one.fromSec === time || one.toSec === time)));
  return tiles.map(({ design }, index): TilePath => {
    const steps: PathStep[] = [];
    let before = starts[index]!;
    for (const [n, atSec] of times.entries()) {
      const to = layouts[n]![index]!;
      if (isSame(before, to)) continue;
      const room = (times[n + 1] ?? span.toSec) - atSec;
      steps.push({ atSec, changeSec: soft[n] ? Math.min(CHANGE_SEC, room) : 0, to });
      before = to;
    }
    return { first: starts[index]!, steps, seen: seenStretches(design) };
  });
}

function holds({ fromSec, toSec }: TileMoment, sec: number): boolean {
  return sec >= fromSec && sec < toSec;
}

function largeAt(moving: readonly (readonly TileMoment[])[], sec: number): number | undefined {
  let last: { index: number; fromSec: number } | undefined;
  for (const [index, moments] of moving.entries()) {
    for (const moment of moments) {
      if (moment.as !== 'large' || !holds(moment, sec)) continue;
      if (last === undefined || moment.fromSec > last.fromSec) last = { index, fromSec: moment.fromSec };
    }
  }
  return last?.index;
}

function isSame(one: Box, other: Box): boolean {
  return (
    one.xPx === other.xPx && one.yPx === other.yPx && one.widthPx === other.widthPx && one.heightPx === other.heightPx
  );
}

/** When a tile is seen: within its span, but where it is away. */
export function seenStretches({ span, moments = [] }: TileDesign): SeenStretch[] | null {
  const away = moments.filter(({ as }) => as === 'away').toSorted((one, other) => one.fromSec - other.fromSec);
  if (span === undefined && away.length === 0) return null;
  const [from, to] = [span?.fromSec ?? Number.NEGATIVE_INFINITY, span?.toSec ?? Number.POSITIVE_INFINITY];
  const stretches: SeenStretch[] = [];
  let at = { sec: from, comesSec: COMING_SEC };
  const until = (toSec: number, goesSec: number): void => {
    if (toSec <= at.sec) return;
    const most = (toSec - at.sec) / 2;
    const [comesSec, goes] = [Math.min(at.comesSec, most), Math.min(goesSec, most)];
    stretches.push({ fromSec: at.sec, toSec, comesSec, goesSec: goes });
  };
  for (const { fromSec, toSec, soft } of away) {
    const changeSec = soft ? COMING_SEC : 0;
    until(Math.min(fromSec, to), changeSec);
    if (toSec > at.sec) at = { sec: toSec, comesSec: changeSec };
  }
  if (at.sec < to) until(to, COMING_SEC);
  return stretches;
}

/** How far a soft change has come, 0 to 1, for a share of its time: it begins and ends gently (3 u^2 - 2 u^3). */
export function eased(share: number): number {
  const u = Math.min(1, Math.max(0, share));
  return u * u * (3 - 2 * u);
}

/** Where a tile lies at a session time, px; even. */
export function boxAt({ first, steps }: TilePath, sec: number): Box {
  let box = first;
  for (const { atSec, changeSec, to } of steps) {
    if (sec < atSec) break;
    const share = changeSec === 0 ? 1 : (sec - atSec) / changeSec;
    box = share >= 1 ? to : between(box, to, eased(share));
  }
  return box;
}

function between(one: Box, other: Box, share: number): Box {
  const at = (from: number, to: number): number => from + share * (to - from);
  return {
    xPx: evenBelowPx(at(one.xPx, other.xPx)),
    yPx: evenBelowPx(at(one.yPx, other.yPx)),
    widthPx: evenPx(at(one.widthPx, other.widthPx)),
    heightPx: evenPx(at(one.heightPx, other.heightPx)),
  };
}

/** How much of a tile is seen at a session time, 0 to 1; what has come before the video began is there at once. */
export function opacityAt({ seen }: TilePath, sec: number): number {
  if (seen === null) return 1;
  const stretch = seen.find(({ fromSec, toSec }) => sec >= fromSec && sec < toSec);
  if (stretch === undefined) return 0;
  const { fromSec, toSec, comesSec, goesSec } = stretch;
  const comes = comesSec === 0 ? 1 : (sec - fromSec) / comesSec;
  const goes = goesSec === 0 ? 1 : (toSec - sec) / goesSec;
  return Math.min(1, comes, goes);
}

/** All boxes a tile comes to rest in. */
export function restingBoxes({ first, steps }: TilePath): Box[] {
  return [first, ...steps.map(({ to }) => to)];
}

/** The size that holds every box of a path. */
export function largestOf(boxes: readonly Size[]): Size {
  return boxes.reduce((best, box) => (box.widthPx * box.heightPx > best.widthPx * best.heightPx ? box : best));
}
