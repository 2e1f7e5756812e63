/** What a written bar says of the order of playing. */
export interface BarSigns {
  /** A repeat begins here. */
  readonly forward: boolean;
  /** A repeat ends here; how often it is played in all, null where the file does not say. */
  readonly backward: { readonly times: number | null } | null;
  /** The numbers of the ending (volta) this bar belongs to; null outside one. */
  readonly ending: readonly number[] | null;
  readonly segno: boolean;
  readonly coda: boolean;
  readonly toCoda: boolean;
  readonly fine: boolean;
  readonly jump: 'daCapo' | 'dalSegno' | null;
}

export const plainBar: BarSigns = {
  forward: false,
  backward: null,
  ending: null,
  segno: false,
  coda: false,
  toCoda: false,
  fine: false,
  jump: null,
};

/** More played bars than any piece has: signs that contradict each other must not run for ever. */
const MOST_BARS = 20_000;

/**
 * The indices of written bars in the order in which they are played: repeats and endings unrolled, one da capo or dal segno
 * followed, after which repeats are not taken again and the last endings are played (common practice, no source).
 * Throws RangeError when the signs lead round in circles.
 */
export function playOrder(bars: readonly BarSigns[]): number[] {
  const order: number[] = [];
  let at = 0;
  let begin = 0;
  let pass = 1;
  let jumped = false;
  while (at < bars.length) {
    const bar = bars[at]!;
    if (bar.forward && at !== begin) {
      begin = at;
      pass = 1;
    }
    if (bar.ending !== null && !isPlayed(bar.ending, lastEnding(bars, begin), pass, jumped)) {
      at++;
      continue;
    }
    order.push(at);
    if (order.length > MOST_BARS) throw new RangeError('its repeats and jumps lead round in circles');
    if (jumped && bar.fine) break;
    if (jumped && bar.toCoda) {
      const coda = bars.findIndex((one, index) => one.coda && index > at);
      if (coda >= 0) {
        at = coda;
        begin = coda;
        continue;
      }
    }
    if (bar.backward !== null && !jumped && pass < timesOf(bar, bars, begin)) {
      pass++;
      at = begin;
      continue;
    }
    // The repeat is over with its last ending, or with its end where it has none; another may end without a beginning.
    if ((bar.backward !== null || bar.ending !== null) && (bars[at + 1]?.ending ?? null) === null) {
      begin = at + 1;
      pass = 1;
    }
    if (bar.jump !== null && !jumped) {
      jumped = true;
      const segno = bars.findIndex((one) => one.segno);
      at = bar.jump === 'dalSegno' && segno >= 0 ? segno : 0;
      begin = at;
      continue;
    }
    at++;
  }
  return order;
}

function isPlayed(ending: readonly number[], last: number, pass: number, jumped: boolean): boolean {
  return ending.includes(jumped ? last : Math.min(pass, last));
}

/** The highest number of the endings of the repeat that begins at a bar. */
function lastEnding(bars: readonly BarSigns[], begin: number): number {
  let last = 1;
  let seen = false;
  for (let at = begin; at < bars.length; at++) {
    const { ending, forward } = bars[at]!;
    if (forward && at !== begin && ending === null) break;
    if (ending !== null) {
      seen = true;
      last = Math.max(last, ...ending);
    } else if (seen) break;
  }
  return last;
}

function timesOf(bar: BarSigns, bars: readonly BarSigns[], begin: number): number {
  if (bar.ending === null) return bar.backward?.times ?? 2;
  return lastEnding(bars, begin);
}
