import { type Box, evenPx, type Size } from '../canvas.ts';
import { betterOf, qualityOf } from '../tiling-quality.ts';
import { rows } from './rows.ts';
import { boxInCell } from './shares.ts';

interface LeadOptions {
  readonly gapPx: number;
  readonly mostCrop: number;
  readonly leadIndex?: number | undefined;
}

/** Shares of a side that the lead takes. */
const LEAD_SHARES = [0.4, 0.5, 0.6, 0.67, 0.75];

interface Region {
  readonly box: Box;
  readonly aspects: readonly number[];
}

/**
 * A lead with its chorus: beside it, below it, at both its sides, or all around it, with shares of the canvas from
 * 40 to 75 %. The lead's tile is always the largest.
 */
export function leadTilings(area: Box, aspects: readonly number[], options: LeadOptions): Box[][] {
  const lead = Math.min(aspects.length - 1, options.leadIndex ?? 0);
  const chorus = aspects.filter((_, index) => index !== lead);
  const own = (box: Box): Box => boxInCell(box, aspects[lead]!, options.mostCrop);
  if (chorus.length === 0) return [[own(area)]];
  const ways: Box[][] = [];
  for (const part of LEAD_SHARES) {
    for (const { leadBox, regions } of splits(area, chorus, part, options.gapPx)) {
      const around = regions.flatMap((region) => fillBest(region, options));
      const leads = own(leadBox);
      const largest = Math.max(...around.map((box) => box.widthPx * box.heightPx));
      if (around.length === chorus.length && leads.widthPx * leads.heightPx > largest) {
        ways.push(around.toSpliced(lead, 0, leads));
      }
    }
  }
  return ways;
}

function* splits(
  area: Box,
  chorus: readonly number[],
  part: number,
  gapPx: number,
): Generator<{ leadBox: Box; regions: Region[] }> {
  const { xPx, yPx, widthPx, heightPx } = area;
  const across = evenPx((widthPx - gapPx) * part);
  const down = evenPx((heightPx - gapPx) * part);
  const restX = xPx + across + gapPx;
  const restY = yPx + down + gapPx;
  yield {
    leadBox: { xPx, yPx, widthPx: across, heightPx },
    regions: [{ box: { xPx: restX, yPx, widthPx: widthPx - across - gapPx, heightPx }, aspects: chorus }],
  };
  yield {
    leadBox: { xPx, yPx, widthPx, heightPx: down },
    regions: [{ box: { xPx, yPx: restY, widthPx, heightPx: heightPx - down - gapPx }, aspects: chorus }],
  };
  if (chorus.length < 2) return;
  const sideX = evenPx((widthPx - across) / 2) - gapPx;
  const centre = { xPx: xPx + sideX + gapPx, yPx, widthPx: widthPx - 2 * (sideX + gapPx), heightPx };
  const left = { xPx, yPx, widthPx: sideX, heightPx };
  const right = { ...left, xPx: xPx + widthPx - sideX };
  const half = Math.ceil(chorus.length / 2);
  yield {
    leadBox: centre,
    regions: [
      { box: left, aspects: chorus.slice(0, half) },
      { box: right, aspects: chorus.slice(half) },
    ],
  };
  if (chorus.length >= 4) yield ring(area, chorus, part, gapPx);
}

/** Rows above and below across the whole area, and columns at both sides between them. */
function ring(area: Box, chorus: readonly number[], part: number, gapPx: number): { leadBox: Box; regions: Region[] } {
  const sideX = evenPx((area.widthPx * (1 - part)) / 2) - gapPx;
  const sideY = evenPx((area.heightPx * (1 - part)) / 2) - gapPx;
  const inner: Size = { widthPx: area.widthPx - 2 * (sideX + gapPx), heightPx: area.heightPx - 2 * (sideY + gapPx) };
  const leadBox = { xPx: area.xPx + sideX + gapPx, yPx: area.yPx + sideY + gapPx, ...inner };
  const top = { ...area, heightPx: sideY };
  const left = { xPx: area.xPx, yPx: leadBox.yPx, widthPx: sideX, heightPx: inner.heightPx };
  const places = [
    top,
    left,
    { ...left, xPx: area.xPx + area.widthPx - sideX },
    { ...top, yPx: area.yPx + area.heightPx - sideY },
  ];
  const total = places.reduce((sum, box) => sum + box.widthPx * box.heightPx, 0);
  const regions: Region[] = [];
  let passed = 0;
  let at = 0;
  for (const [index, box] of places.entries()) {
    passed += box.widthPx * box.heightPx;
    const left4 = places.length - 1 - index;
    const until = Math.min(chorus.length - left4, Math.max(at + 1, Math.round((chorus.length * passed) / total)));
    regions.push({ box, aspects: chorus.slice(at, until) });
    at = until;
  }
  return { leadBox, regions };
}

/** The rows that fill a region at the least cost. */
function fillBest({ box, aspects }: Region, options: LeadOptions): Box[] {
  if (box.widthPx < 2 || box.heightPx < 2) return [];
  const here: Size = { widthPx: box.widthPx, heightPx: box.heightPx };
  const ways = rows(box, aspects, options)
    .filter((boxes) => boxes.every((one) => one.widthPx > 0 && one.heightPx > 0))
    .map((boxes) => ({ boxes, quality: qualityOf(here, aspects, boxes, undefined) }));
  return ways.length === 0 ? [] : ways.reduce((one, other) => betterOf(one, other)).boxes;
}
