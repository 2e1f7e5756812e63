import type { SessionSpan } from '../../core/picture/picture-design.ts';
import type { Session } from '../../core/session/schema.ts';
import { PartsongError } from '../../core/signal/fault.ts';
import { SESSION_RATE_HZ } from '../../core/signal/time.ts';
import type { MixedSession } from './session-pictures.ts';

/** What of a session becomes the video. */
export type Trim =
  /** The music as the mix has it. */
  | { readonly kind: 'music' }
  /** All of the mix. */
  | { readonly kind: 'all' }
  /** Bars of the guide's score, as numbered there; without numbers all of them. */
  | { readonly kind: 'bars'; readonly fromBar?: number; readonly toBar?: number }
  /** Session time, s. */
  | { readonly kind: 'span'; readonly span: SessionSpan };

/** The stretch of session time that a trim means; without one, what was chosen in the session, else the music. Throws PartsongError 'bad-option' where it cannot be. */
export function spanOf(trim: Trim | undefined, { session, mix, report }: MixedSession): SessionSpan {
  const whole = { fromSec: 0, toSec: mix.lengthSec };
  if (trim === undefined) return within(session.picture?.span ?? report?.music ?? whole, whole);
  switch (trim.kind) {
    case 'all':
      return whole;
    case 'music':
      return within(report?.music ?? whole, whole);
    case 'span':
      return within(trim.span, whole);
    case 'bars':
      return within(barsOf(trim, session), whole);
  }
}

function within(span: SessionSpan, whole: SessionSpan): SessionSpan {
  const fromSec = Math.max(whole.fromSec, span.fromSec);
  const toSec = Math.min(whole.toSec, span.toSec);
  if (toSec > fromSec) return { fromSec, toSec };
  throw new PartsongError(
    'bad-option',
    `There is no sound between ${span.fromSec.toFixed(2)} and ${span.toSec.toFixed(2)} s: the mix is ${whole.toSec.toFixed(2)} s long.`,
    'Choose a stretch within the mix, or leave --trim out.',
  );
}

/** Session time of bars of the guide's score, as numbered there; without numbers all of them. Throws PartsongError 'bad-option'. */
export function barsOf(
  { fromBar, toBar }: { readonly fromBar?: number; readonly toBar?: number },
  session: Session,
): SessionSpan {
  const plan = session.guide?.plan ?? null;
  if (plan === null || plan.bars.length === 0) {
    throw new PartsongError(
      'bad-option',
      'The session has no guide with bars, so no bars can be named.',
      'Give a stretch in seconds instead, as FROM-TO (0:20-0:45).',
    );
  }
  const first = fromBar === undefined ? 0 : plan.bars.findIndex((bar) => bar.number === fromBar);
  const last = toBar === undefined ? plan.bars.length - 1 : plan.bars.findLastIndex((bar) => bar.number === toBar);
  const [from, after] = [plan.bars[first], plan.bars[last + 1]];
  if (from === undefined || last < first) {
    const numbers = plan.bars.map((bar) => bar.number);
    throw new PartsongError(
      'bad-option',
      `There are no bars ${fromBar ?? ''}-${toBar ?? ''} in the guide.`,
      `Its bars are ${Math.min(...numbers)} to ${Math.max(...numbers)}.`,
    );
  }
  return { fromSec: from.frame / SESSION_RATE_HZ, toSec: (after?.frame ?? plan.musicEndFrame) / SESSION_RATE_HZ };
}

/** Reads `music`, `all`, `bars`, `bars:5-12`; other texts give undefined. */
export function parseTrimWord(text: string): Trim | undefined {
  if (text === 'music') return { kind: 'music' };
  if (text === 'all') return { kind: 'all' };
  if (text === 'bars') return { kind: 'bars' };
  const bars = /^bars:(\d+)-(\d+)$/.exec(text);
  return bars === null ? undefined : { kind: 'bars', fromBar: Number(bars[1]), toBar: Number(bars[2]) };
}
