import { soundingTake, takeAt, withStretch } from '../../../core/session/passages.ts';
import type { Session, Take, Voice } from '../../../core/session/schema.ts';
import { PartsongError } from '../../../core/signal/fault.ts';
import { joinPointsBetween } from '../join-points.ts';
import { time } from '../report/markup.ts';
import type { Draft } from './draft.ts';
import { namedValue, takeNamed } from './named.ts';
import type { TakesRead } from './read-takes.ts';
import { readyTakes } from './ready-takes.ts';
import type { Running } from './session-work.ts';
import type { SpanReader } from './take-choices.ts';

const HOW = { rest: 'in a rest', beginning: 'before a note', held: 'within a tone' } as const;

/**
 * "TAKE=FROM-TO" in session time: the take is used there, and what sounded before goes on around it. Both ends are moved to the best
 * place for a join near them, as on screen. Gives what was done, for people.
 */
export async function useStretch(
  draft: Draft,
  text: string,
  spanOf: SpanReader,
  read: TakesRead,
  running: Running,
): Promise<string> {
  const { name, value } = namedValue(text, '--use', 'flute t2=0:41-0:52');
  const { session, desk } = draft;
  const take = takeNamed(session, name);
  const voice = session.voices.find(({ id }) => id === take.voiceId)!;
  const wished = spanOf(value);
  const base = soundingTake(session, voice);
  if (base === undefined) throw noBase(voice);
  const neighbours = [wished.fromSec, wished.toSec].map((sec) => soundsAt(session, voice, base, sec));
  const takes = [...new Set([take, ...neighbours])];
  const ready = await readyTakes(session, takes, read, desk, running);
  const snapped = [wished.fromSec, wished.toSec].map((sec, end) => {
    const other = neighbours[end]!;
    // Nothing is joined where the take sounds already.
    if (other.id === take.id) return { atSec: sec, words: time(sec) };
    const sides = [ready.get(other.id)!, ready.get(take.id)!] as const;
    const [left, right] = end === 0 ? sides : [sides[1], sides[0]];
    const best = joinPointsBetween(left, right, sec)[0]!;
    return { atSec: best.atSec, words: `${time(best.atSec)} (${HOW[best.kind]})` };
  });
  const [from, to] = snapped as [(typeof snapped)[0], (typeof snapped)[0]];
  if (!(to.atSec > from.atSec)) {
    throw new PartsongError('bad-option', `${value} is too short to be joined.`, 'Name a longer stretch.');
  }
  const stretch = { takeId: take.id, fromSec: from.atSec, toSec: to.atSec };
  draft.decide({ kind: 'setPassages', voiceId: voice.id, passages: withStretch(voice.passages, base.id, stretch) });
  return `${voice.name}: sounds with ${take.name} from ${from.words} to ${to.words}.`;
}

/** The take of a voice that sounds at a session time. */
function soundsAt(session: Session, { passages }: Voice, base: Take, sec: number): Take {
  const id = passages === null ? base.id : takeAt(passages, sec);
  return session.takes.find((take) => take.id === id) ?? base;
}

function noBase({ name }: Voice): PartsongError {
  return new PartsongError(
    'bad-option',
    `Of ${name} no take is chosen yet, so there is nothing around the stretch.`,
    'Choose one first: --choose TAKE.',
  );
}
