import { basename, dirname, resolve } from 'node:path';
import type { GuidePlan } from '../../core/guide/guide-plan.ts';
import type { Part, Score } from '../../core/guide/score.ts';
import type { KeptPlan } from '../../core/session/kept-plan.ts';
import { soundingTake } from '../../core/session/passages.ts';
import type { CleanChoice, Mend, Placement, Session, Span } from '../../core/session/schema.ts';
import { PartsongError } from '../../core/signal/fault.ts';
import { SESSION_RATE_HZ } from '../../core/signal/time.ts';
import { isUnplaced } from './placement.ts';
import { SESSION_NAME, SessionStore } from './session-store.ts';

/** A recorded take that is to sound in a guide in place of the mock-up of its part. */
export interface OwnTake {
  readonly part: Part;
  readonly clip: string;
  /** The stretch of the clip that it is, clip time, s; null: all of it. */
  readonly stretch: Span | null;
  readonly silence: Span | null;
  readonly clean: CleanChoice;
  readonly mend: Mend | null;
  /** Where it lies on the time line of the guide to be made; null: to be found. */
  readonly placement: Placement | null;
}

const USUAL_CLEAN: CleanChoice = { on: true, character: 'even', rule: 'lsa', fine: null };
/** Bars may differ by so much between two plans of one piece, frames: each is rounded to one. */
const SAME_FRAMES = 2;

/** The part that has a text in its name. Throws PartsongError 'bad-option' where none or several have. */
export function partNamed(score: Score, text: string): Part {
  const wanted = text.normalize('NFC').toLowerCase().trim();
  const nameOf = (part: Part): string => part.name.normalize('NFC').toLowerCase();
  const same = score.parts.filter((part) => nameOf(part) === wanted);
  const found = same.length === 1 ? same : score.parts.filter((part) => nameOf(part).includes(wanted));
  if (found.length === 1) return found[0]!;
  throw new PartsongError(
    'bad-option',
    `The voice "${text}" is not clear: ${found.length === 0 ? 'no part of the score has that in its name' : `${found.length} parts have it in their names`}.`,
    score.parts.length === 0
      ? 'Name a score; without one the guide is a click and the same for all.'
      : `Name one of these: ${score.parts.map((part) => part.name).join(', ')}; or all.`,
  );
}

/** A session as it lies on the disk; it is only read. Throws PartsongError as SessionStore does. */
export async function readSession(path: string): Promise<{ session: Session; folder: string }> {
  const folder = basename(path) === SESSION_NAME ? dirname(resolve(path)) : resolve(path);
  return { session: (await new SessionStore(folder).read()).session, folder };
}

/** Takes named one by one. */
export function takesNamed(
  score: Score,
  named: readonly { readonly voice: string; readonly clip: string }[],
): OwnTake[] {
  return named.map(({ voice, clip }) => ({
    part: partNamed(score, voice),
    clip,
    stretch: null,
    silence: null,
    clean: USUAL_CLEAN,
    mend: null,
    placement: null,
  }));
}

/**
 * The takes with which the voices of a session sound, for the parts of the same names. Where the session's guide had a plan
 * their places are known. Throws PartsongError 'bad-option' where its bars lie otherwise than those of the guide to be made.
 */
export function takesOfSession(
  { session, folder }: { readonly session: Session; readonly folder: string },
  score: Score,
  plan: GuidePlan,
  notes: string[],
): OwnTake[] {
  const shiftSec = session.guide?.plan == null ? null : shiftBetween(session.guide.plan, plan);
  return session.voices.flatMap((voice): OwnTake[] => {
    const take = soundingTake(session, voice);
    if (take === undefined) return [];
    const part = partOfVoice(score, voice.name);
    if (part === undefined) {
      notes.push(`The voice ${voice.name} of the session has no part of that name in the score, so it does not sound.`);
      return [];
    }
    if (voice.passages !== null) {
      notes.push(`${voice.name} is made of passages in the session; here its take ${take.name} sounds alone.`);
    }
    const { placement, silence, clean, mend } = take;
    const isKnown = placement !== null && !isUnplaced(placement) && shiftSec !== null;
    const moved = isKnown ? { ...placement, offsetSec: placement.offsetSec + shiftSec } : null;
    return [
      { part, clip: resolve(folder, take.clip.path), stretch: take.part, silence, clean, mend, placement: moved },
    ];
  });
}

function partOfVoice(score: Score, name: string): Part | undefined {
  const voice = name.normalize('NFC').toLowerCase().trim();
  const named = score.parts.map((part) => ({ part, name: part.name.normalize('NFC').toLowerCase() }));
  const same = named.find((one) => one.name === voice);
  if (same !== undefined) return same.part;
  const alike = named.filter((one) => voice.includes(one.name) || one.name.includes(voice));
  return alike.length === 1 ? alike[0]!.part : undefined;
}

/** How much later the music is in a new plan, s. */
function shiftBetween(old: KeptPlan, plan: GuidePlan): number {
  const isSame =
    old.bars.length === plan.bars.length &&
    old.bars.every((bar, n) => {
      const other = plan.bars[n]!.frame - plan.musicFrame;
      return Math.abs(bar.frame - old.musicFrame - other) <= SAME_FRAMES;
    });
  if (isSame) return (plan.musicFrame - old.musicFrame) / SESSION_RATE_HZ;
  throw new PartsongError(
    'bad-option',
    'The takes of the session were played to a guide with other bars or another tempo, so they do not fit this one.',
    'Make the guide with the same score and tempo, or without the takes.',
  );
}
