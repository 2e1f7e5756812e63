import type { Edit } from '../../../core/session/edit.ts';
import { soundingTake } from '../../../core/session/passages.ts';
import { type Session, type Span, type Take, type TakeMark, takeMarks } from '../../../core/session/schema.ts';
import { partEdit, splitEdit } from '../../../core/session/split-take.ts';
import { LEAST_PART_SEC } from '../../../core/session/take-part.ts';
import { PartsongError } from '../../../core/signal/fault.ts';
import type { NamedVoice } from '../assignment.ts';
import { severalIn } from '../attempts.ts';
import { rolesOf } from '../names.ts';
import { time } from '../report/markup.ts';
import { freshIds, newVoice, voiceCalled } from './add-takes.ts';
import type { Draft } from './draft.ts';
import { namedValue, takeNamed } from './named.ts';
import type { TakesRead } from './read-takes.ts';

type SingleEdit = Exclude<Edit, { kind: 'together' }>;

/** Reads a stretch of time, "0:41-0:52"; throws where it is none. */
export type SpanReader = (text: string) => Span;

/**
 * Gives takes to voices by name, as "partsong takes" is told by hand: a voice of that name, or a new one, in one step. A voice that
 * loses all its takes goes; one that gets its first takes sounds with the first. Gives what was done, for people.
 */
export function giveToVoices(
  draft: Draft,
  wishes: readonly { readonly name: string; readonly takes: readonly Take[] }[],
): string[] {
  return wishes.flatMap(({ name, takes }) => {
    const { session } = draft;
    const there = session.voices.find((voice) => voice.name === name) ?? voiceCalled(session, name);
    const moved = takes.filter(({ voiceId }) => voiceId !== there?.id);
    if (moved.length === 0) return [];
    const voiceId = there?.id ?? freshIds('voice', session.voices)();
    const edits: SingleEdit[] = [];
    if (there === undefined) {
      const [role] = rolesOf([name], undefined);
      edits.push({ kind: 'addVoice', voice: newVoice(voiceId, name.slice(0, 200), role!, session.voices.length % 6) });
    }
    edits.push(...moved.map(({ id }) => ({ kind: 'moveTake', takeId: id, voiceId }) as const));
    if (session.takes.every((take) => take.voiceId !== voiceId))
      edits.push({ kind: 'chooseTake', voiceId, takeId: moved[0]!.id });
    const left = new Set(moved.map(({ voiceId: home }) => home));
    const goes = (home: string): boolean =>
      session.takes.every((take) => take.voiceId !== home || moved.some(({ id }) => id === take.id));
    edits.push(...[...left].filter(goes).map((home) => ({ kind: 'removeVoice', voiceId: home }) as const));
    draft.decide({ kind: 'together', label: `give ${moved.length} takes to ${name}`.slice(0, 200), edits });
    return [`${moved.map((take) => take.name).join(', ')}: now of the voice ${there?.name ?? name}.`];
  });
}

/** Parts what was told by hand into clips that are to come in, and takes that are there: those that are called just so. */
export function partHands(
  session: Session,
  byHand: readonly NamedVoice[],
): {
  readonly clips: readonly NamedVoice[];
  readonly takes: readonly { readonly name: string; readonly takes: readonly Take[] }[];
} {
  const takeOf = (name: string): Take | undefined => {
    try {
      return takeNamed(session, name);
    } catch {
      return undefined;
    }
  };
  const isTake = (name: string): boolean => !/[\\/]/.test(name) && takeOf(name) !== undefined;
  return {
    clips: byHand.flatMap(({ name, clips }) => {
      const own = clips.filter((clip) => !isTake(clip));
      return own.length === 0 ? [] : [{ name, clips: own }];
    }),
    takes: byHand.map(({ name, clips }) => ({
      name,
      takes: clips.filter(isTake).map((clip) => takeNamed(session, clip)),
    })),
  };
}

/** Makes takes of their own of all that clips seem to hold; a step a clip. Clips that were parted or kept as one stay so. */
export function partAll(draft: Draft, read: TakesRead): string[] {
  return draft.session.takes.flatMap((take) => {
    const taken = read.get(take.id);
    const several = taken === undefined ? [] : severalIn(taken, draft.session.guide?.plan ?? null);
    if (take.part !== null || several.length < 2) return [];
    const fresh = freshIds('take', draft.session.takes);
    const ids = several.slice(1).map(() => fresh());
    draft.decide(splitEdit(draft.session, take, several, ids));
    return [
      `${take.name}: ${several.length} takes of its clip, from ${several.map(({ beginsSec }) => time(beginsSec)).join(', ')}.`,
    ];
  });
}

/** "TAKE=FROM-TO" in the clip's time: that stretch is a take of its own (part), or all that the take is (bounds). */
export function partByHand(draft: Draft, text: string, kind: 'part' | 'bounds', spanOf: SpanReader): string {
  const { name, value } = namedValue(text, `--${kind}`, 'evening=0:03-1:32');
  const take = takeNamed(draft.session, name);
  if (kind === 'bounds' && value.toLowerCase() === 'whole') {
    draft.decide({ kind: 'setPart', takeId: take.id, part: null });
    return `${take.name}: all of its clip.`;
  }
  const span = spanOf(value);
  if (span.toSec - span.fromSec < LEAST_PART_SEC) {
    const next = `Name a longer stretch of ${take.name}.`;
    throw new PartsongError(
      'bad-option',
      `A take holds at least ${LEAST_PART_SEC} s of its clip; ${value} is less.`,
      next,
    );
  }
  const words = `${time(span.fromSec)} to ${time(span.toSec)} of its clip`;
  if (kind === 'bounds') {
    draft.decide({ kind: 'setPart', takeId: take.id, part: span });
    return `${take.name}: ${words}.`;
  }
  const id = freshIds('take', draft.session.takes)();
  draft.decide(partEdit(draft.session, take, span, id));
  return `${draft.session.takes.find((one) => one.id === id)!.name}: ${words}, a take of its own.`;
}

/** "TAKE=best", or good, no, none: what the player thinks of it. */
export function markByHand(draft: Draft, text: string): string {
  const { name, value } = namedValue(text, '--mark', 'flute t2=best');
  const take = takeNamed(draft.session, name);
  const mark = takeMarks.find((one): one is TakeMark => one === value.toLowerCase());
  if (mark === undefined) {
    throw new PartsongError('bad-option', `"${value}" is no mark.`, `A mark is one of ${takeMarks.join(', ')}.`);
  }
  draft.decide({ kind: 'setMark', takeId: take.id, mark });
  return `${take.name}: marked ${mark}.`;
}

/** "TAKE=words", parted at the first equals sign. */
export function remarkByHand(draft: Draft, text: string): string {
  const at = text.indexOf('=');
  if (at <= 0)
    throw new PartsongError('bad-option', `"${text}" says no remark.`, 'For example: --remark "flute t2=lovely".');
  const take = takeNamed(draft.session, text.slice(0, at));
  draft.decide({
    kind: 'setRemark',
    takeId: take.id,
    remark: text
      .slice(at + 1)
      .trim()
      .slice(0, 2000),
  });
  return `${take.name}: remark kept.`;
}

/** The voice of a take sounds with it alone. */
export function chooseTake(draft: Draft, take: Take, why = ''): string {
  const voice = draft.session.voices.find(({ id }) => id === take.voiceId)!;
  const isSo = voice.passages === null && soundingTake(draft.session, voice)?.id === take.id;
  if (!isSo || voice.chosenTakeId !== take.id) draft.decide({ kind: 'chooseTake', voiceId: voice.id, takeId: take.id });
  return `${voice.name}: ${isSo ? 'sounds with' : 'now sounds with'} ${take.name}.${why === '' ? '' : ` ${why}`}`;
}
