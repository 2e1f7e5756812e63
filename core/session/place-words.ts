/** From this uncertainty on, nothing is known of where a take lies, s. */
export const UNPLACED_SEC = 10;

/** What can be told of how exactly a take's place is known. */
interface PlaceKnown {
  readonly uncertaintySec: number;
}

/** Whether nothing is known of where a take lies: its offset then says nothing. */
export function isUnplaced({ uncertaintySec }: PlaceKnown): boolean {
  return uncertaintySec >= UNPLACED_SEC;
}

/**
 * Whether a take lies where it does only because the others are laid by it: the line-up's mark (core/lineup/without-guide.ts) in which no clap
 * was found. Its place is exact by definition, and says nothing.
 */
export function isBareMark({ uncertaintySec }: PlaceKnown): boolean {
  return uncertaintySec === 0;
}

/** What is said of a bare mark where a confidence would stand. */
export const BARE_MARK = 'no clap confirms its place';

/** How exactly a place is known, for people: a number of ms, "the mark" or "not known". */
export function exactness(placement: PlaceKnown): string {
  if (isUnplaced(placement)) return 'not known';
  if (isBareMark(placement)) return 'the mark';
  const ms = placement.uncertaintySec * 1000;
  return `${ms.toFixed(ms < 10 ? 1 : 0)} ms`;
}

/** How exactly and how surely a take is placed, for a line of text: "within 15 ms, confidence 95 %". */
export function placedWords(placement: PlaceKnown & { readonly confidence: number }): string {
  if (isUnplaced(placement)) return 'not known';
  if (isBareMark(placement)) return `as the mark; ${BARE_MARK}`;
  return `within ${exactness(placement)}, confidence ${Math.round(placement.confidence * 100)} %`;
}
