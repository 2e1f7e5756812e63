/** A passage as far as this looks at it; see passageSchema. */
interface PassageTimes {
  readonly takeId: string;
  readonly fromSec: number;
  readonly toSec: number;
}

/** What makes passages none of a voice, in words; undefined when nothing does. isOwn: whether a take is of the voice. */
export function passagesFault(
  passages: readonly PassageTimes[],
  isOwn: (takeId: string) => boolean,
): string | undefined {
  for (const [index, passage] of passages.entries()) {
    if (!isOwn(passage.takeId)) return `${index} names no take of the voice`;
    const next = passages[index + 1];
    if (next !== undefined && next.fromSec !== passage.toSec) return `${index + 1} does not begin where ${index} ends`;
    if (next !== undefined && next.takeId === passage.takeId) return `${index + 1} has the same take as ${index}`;
  }
  return undefined;
}
