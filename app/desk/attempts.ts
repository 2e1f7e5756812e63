import { basename } from 'node:path';
import { partsByGuide } from '../../core/lineup/parts-by-guide.ts';
import { asClock } from '../../core/lineup/sentences.ts';
import type { FoundPart } from '../../core/lineup/several-takes.ts';
import { guideLengths, type KeptPlan } from '../../core/session/kept-plan.ts';
import type { Span, TakeMark } from '../../core/session/schema.ts';
import type { RunOptions, WorkPool } from '../work/pool.ts';
import { type AssignedVoice, takeNameOf } from './assignment.ts';
import type { Cache } from './cache.ts';
import { cutParts, type PartWish } from './cut-parts.ts';
import type { TakenIn } from './take-in.ts';

/** A take of a voice: a clip, or a part of one. */
export interface Attempt {
  /** Which of the voices. */
  readonly voice: number;
  readonly name: string;
  readonly taken: TakenIn;
  /** Stretch of its clip, s; null: the whole clip. */
  readonly part: Span | null;
  /** It seems to have been broken off. */
  readonly isBrokenOff: boolean;
  /** What the player thinks of it; absent where it is new. */
  readonly mark?: TakeMark;
  /** What its clip told, and whether that holds several takes. */
  readonly notes: readonly string[];
}

interface Wish extends PartWish, Omit<Attempt, 'taken' | 'name'> {
  /** Which part of its clip, from 1. */
  readonly nth: number | null;
}

/**
 * The takes of voices whose clips were taken in, in their order (voice by voice). apart: the takes that a clip seems to hold are used
 * apart; else such a clip is one take, which its notes tell. plan: of the guide that they were played to.
 */
export async function attemptsOf(
  voices: readonly AssignedVoice[],
  taken: readonly TakenIn[],
  apart: boolean,
  cache: Cache,
  pool: WorkPool,
  options: RunOptions & { readonly plan?: KeptPlan | null } = {},
): Promise<Attempt[]> {
  const { plan = null, ...running } = options;
  const owners = voices.flatMap(({ clips }, voice) => clips.map(() => voice));
  const wishes = taken.flatMap((clip, index): Wish[] => {
    const voice = owners[index]!;
    const several = severalIn(clip, plan);
    if (!apart || several.length < 2) {
      const told = severalNote(clip, several);
      return [{ clip, voice, part: null, nth: null, isBrokenOff: false, notes: told === null ? [] : [told] }];
    }
    return several.map(({ fromSec, toSec, isBrokenOff }, n) => ({
      ...{ clip, voice, part: { fromSec, toSec }, nth: n + 1, isBrokenOff },
      notes: isBrokenOff
        ? ['It is much shorter than the other takes of its clip: it seems to have been broken off.']
        : [],
    }));
  });
  const cut = await cutParts(wishes, cache, pool, running);
  return wishes.map(({ clip, voice, part, nth, isBrokenOff, notes }, index) => ({
    voice,
    name: takeNameOf(clip.file, nth),
    taken: cut[index]!,
    part,
    isBrokenOff,
    notes: [...cut[index]!.notes, ...notes],
  }));
}

/** The takes that a clip seems to hold; held against the guide, where its plan is known. */
export function severalIn({ several }: TakenIn, plan: KeptPlan | null): readonly FoundPart[] {
  return plan === null || several.length < 2 ? several : partsByGuide(several, guideLengths(plan));
}

function severalNote({ file }: TakenIn, several: readonly FoundPart[]): string | null {
  if (several.length < 2) return null;
  const times = several.map(({ beginsSec }) => asClock(beginsSec)).join(', ');
  const why = several.slice(1).every(({ by }) => by === 'clap')
    ? 'there are claps after long rests'
    : 'the same music begins again after long rests, which may as well be a theme that returns in the piece';
  return `${basename(file)} seems to hold ${several.length} takes, which begin at ${times}: ${why}. It is used as one; with --apart they are takes of their own.`;
}
