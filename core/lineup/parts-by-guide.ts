import { type FoundPart, ringAfter } from './several-takes.ts';

/** How long a piece lasts in the guide that it is played to, s. */
export interface GuideLengths {
  /** From the clap at its beginning to the end of its music; null where nobody is to clap. */
  readonly fromClapSec: number | null;
  /** From the beginning of its music to its end. */
  readonly musicSec: number;
}

/** A player holds the last note longer than it is written, or comes in late, by so much, s. */
const OVER_SEC = 3;
/** Music that goes on for longer after the end of the guide was not played to it, s. */
const OTHER_MUSIC_SEC = 10;

/**
 * The takes of a clip, held against the guide that they were played to. A part that begins without a clap while the piece is
 * still under way, and that ends with it, is a theme that returns (a rondo's, after a long rest) and belongs to the take before
 * it; a take that was broken off and begun anew lasts longer than the piece. What sounds after the end of the piece does not
 * belong to a take. Empty where one take is left.
 */
export function partsByGuide(parts: readonly FoundPart[], guide: GuideLengths): FoundPart[] {
  const joined: FoundPart[] = [];
  for (const part of parts) {
    const last = joined.at(-1);
    const endSec = last === undefined ? 0 : expectedEnd(last, guide);
    const isInside =
      last !== undefined && part.by === 'music' && part.beginsSec < endSec && part.musicSec[1] <= endSec + OVER_SEC;
    if (isInside) joined[joined.length - 1] = together(last, part);
    else joined.push(part);
  }
  if (joined.length < 2) return [];
  const bounds = joined.slice(1).map((next, index) => boundBetween(joined[index]!, next, guide));
  return joined.map((part, index) => {
    const fromSec = bounds[index - 1] ?? part.fromSec;
    const toSec = bounds[index] ?? part.toSec;
    return fromSec === part.fromSec && toSec === part.toSec ? part : { ...part, fromSec, toSec };
  });
}

function expectedEnd({ by, beginsSec }: FoundPart, { fromClapSec, musicSec }: GuideLengths): number {
  return beginsSec + (by === 'clap' && fromClapSec !== null ? fromClapSec : musicSec);
}

function together(one: FoundPart, other: FoundPart): FoundPart {
  const musicSec = [one.musicSec[0], other.musicSec[1]] as const;
  return { ...one, toSec: other.toSec, musicSec, isBrokenOff: one.isBrokenOff && other.isBrokenOff };
}

/** Where a take ends and the next begins: as they were found, but for what sounds after the end of the piece. */
function boundBetween(part: FoundPart, next: FoundPart, guide: GuideLengths): number {
  const endSec = expectedEnd(part, guide) + OVER_SEC;
  const overSec = part.musicSec[1] - endSec;
  if (overSec <= 0 || overSec > OTHER_MUSIC_SEC || next.beginsSec <= endSec) return part.toSec;
  return endSec + Math.min(0.5, ringAfter(endSec, next.beginsSec));
}
