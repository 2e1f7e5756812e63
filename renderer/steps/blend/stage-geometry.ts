/** The stage as it is drawn: the listener's spot and the arc the voices stand on, px. */
export interface StageFrame {
  readonly width: number;
  readonly height: number;
  readonly middleX: number;
  readonly middleY: number;
  readonly radius: number;
}

/** Room beside and above the arc for marks and names, px. */
const SIDE = 22;
const ABOVE = 22;
const BELOW = 34;

/** The stage in a box of some width and at most some height; `beyond` px are kept free outside the arc for marks that stand out. */
export function stageFrame(width: number, mostHeight: number, beyond: number): StageFrame {
  const radius = Math.max(60, Math.min(width / 2 - SIDE - beyond, mostHeight - ABOVE - BELOW - beyond));
  const height = radius + ABOVE + BELOW + beyond;
  return { width, height, middleX: width / 2, middleY: ABOVE + beyond + radius, radius };
}

/** Where an angle lies: -90 left, 0 before the listener, 90 right; `out` px beyond the arc. */
export function spotAt(frame: StageFrame, degrees: number, out = 0): { readonly x: number; readonly y: number } {
  const angle = (degrees * Math.PI) / 180;
  const reach = frame.radius + out;
  return { x: frame.middleX + reach * Math.sin(angle), y: frame.middleY - reach * Math.cos(angle) };
}

/** The angle of a point as the listener sees it, whole degrees held to -90 to 90. */
export function degreesAt(frame: StageFrame, x: number, y: number): number {
  const across = x - frame.middleX;
  const before = Math.max(0, frame.middleY - y);
  if (across === 0 && before === 0) return 0;
  return heldDegrees((Math.atan2(across, before) * 180) / Math.PI);
}

/** Whole degrees between -90 and 90. */
export function heldDegrees(degrees: number): number {
  return Math.max(-90, Math.min(90, Math.round(degrees))) + 0;
}

/** An angle in words: "30 degrees left", "in the middle". */
export function placeWords(degrees: number): string {
  const whole = heldDegrees(degrees);
  if (whole === 0) return 'in the middle';
  return `${Math.abs(whole)} degree${Math.abs(whole) === 1 ? '' : 's'} ${whole < 0 ? 'left' : 'right'}`;
}

/** An angle in short: "30° left", "middle". */
export function placeShort(degrees: number): string {
  const whole = heldDegrees(degrees);
  return whole === 0 ? 'middle' : `${Math.abs(whole)}° ${whole < 0 ? 'left' : 'right'}`;
}

/** One or two letters that stand for a voice: first letters of its words, or a letter and its number. */
export function initialsOf(name: string): string {
  const words = name
    .trim()
    .split(/[\s_-]+/)
    .filter((word) => /[\p{L}\p{N}]/u.test(word));
  // A name of signs alone stands for itself.
  if (words.length === 0) return [...name.trim()][0] ?? '?';
  const number = words.slice(1).find((word) => /^\d{1,2}$/.test(word));
  if (number !== undefined) return `${[...words[0]!][0]!.toUpperCase()}${number}`;
  return words
    .slice(0, 2)
    .map((word) => [...word][0]!.toUpperCase())
    .join('');
}

/**
 * How far beyond the arc each mark stands so that none covers another, in steps of a mark (0, 1, 2 ...). A mark that stands
 * out is tied to its spot on the arc by a line. `apartDegrees` is what two marks on one ring need between them.
 */
export function ringsOf(degrees: readonly number[], apartDegrees: number, mostRings: number): number[] {
  const order = degrees.map((_, n) => n).sort((a, b) => degrees[a]! - degrees[b]! || a - b);
  const ends = new Array<number>(mostRings).fill(Number.NEGATIVE_INFINITY);
  const rings = new Array<number>(degrees.length).fill(0);
  for (const n of order) {
    const free = ends.findIndex((end) => degrees[n]! - end >= apartDegrees);
    const ring = free >= 0 ? free : ends.indexOf(Math.min(...ends));
    rings[n] = ring;
    ends[ring] = degrees[n]!;
  }
  return rings;
}

/**
 * The outline of a mark by the voice's colour, within about `size` px of its middle, so that colours are told apart by
 * shape as well: the same shapes as at the lanes, with room inside for letters.
 */
export function markPath(colour: number, size: number): string {
  const round = (radius: number): string =>
    `M${-radius} 0A${radius} ${radius} 0 1 1 ${radius} 0A${radius} ${radius} 0 1 1 ${-radius} 0Z`;
  const square = (half: number): string => `M${-half} ${-half}H${half}V${half}H${-half}Z`;
  const s = (share: number): string => (share * size).toFixed(1);
  switch (colour % 8) {
    case 0:
      return round(size);
    case 1:
      return square(0.9 * size);
    case 2:
      return `M0 ${s(-1.35)}L${s(1.4)} ${s(0.95)}H${s(-1.4)}Z`;
    case 3:
      return `M0 ${s(-1.3)}L${s(1.3)} 0L0 ${s(1.3)}L${s(-1.3)} 0Z`;
    case 4:
      return `M${s(-1.4)} ${s(-0.95)}H${s(1.4)}L0 ${s(1.35)}Z`;
    case 5:
      return round(1.15 * size) + round(0.8 * size);
    case 6:
      return `M${s(-0.7)} ${s(-1.2)}H${s(0.7)}V${s(-0.7)}H${s(1.2)}V${s(0.7)}H${s(0.7)}V${s(1.2)}H${s(-0.7)}V${s(0.7)}H${s(-1.2)}V${s(-0.7)}H${s(-0.7)}Z`;
    default:
      return square(1.05 * size) + square(0.75 * size);
  }
}
