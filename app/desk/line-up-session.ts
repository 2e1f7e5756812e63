import { basename } from 'node:path';
import type { Laid } from '../../core/session/anchored-clock.ts';
import {
  anchorsOf,
  backToFound,
  withAnchor,
  withAnchorsAlone,
  withJump,
  withoutAnchor,
} from '../../core/session/anchors.ts';
import { acceptedByHand, laidByHand } from '../../core/session/by-hand.ts';
import type { Placement, Take } from '../../core/session/schema.ts';
import { PartsongError } from '../../core/signal/fault.ts';
import { SESSION_RATE_HZ } from '../../core/signal/time.ts';
import { assignClips } from './assignment.ts';
import type { LineUpReport } from './line-up-clips.ts';
import { placementReport } from './placement.ts';
import { time } from './report/markup.ts';
import { withoutRepeats } from './session/add-takes.ts';
import { bringIn, keepGuide, USUAL_CLEAN } from './session/bring-in.ts';
import type { Draft } from './session/draft.ts';
import { namedValue, takeNamed } from './session/named.ts';
import { placeTakes } from './session/place-takes.ts';
import { readTakes, type TakesRead } from './session/read-takes.ts';
import { type Running, withSession } from './session/session-work.ts';

/** What is said of where takes lie, as on the command line; each list in its order. */
export interface PlaceWords {
  /** "TAKE=IN_TAKE@IN_SESSION": that moment of the take belongs to that session time. */
  readonly pins: readonly string[];
  /** "TAKE=IN_TAKE", the pin nearest to it, or "TAKE": all of them. */
  readonly unpins: readonly string[];
  /** "TAKE=IN_TAKE": sound is missing there, between two pins. */
  readonly lost: readonly string[];
  /** "TAKE=MS": later by so much. */
  readonly moves: readonly string[];
  /** Takes whose bends that were found do not count beside their pins. */
  readonly alone: readonly string[];
  /** Takes whose place is right though it asks. */
  readonly accept: readonly string[];
  /** Takes that go back to where they were found. */
  readonly back: readonly string[];
}

export interface LineUpSessionOptions extends Running, PlaceWords {
  readonly session: string;
  /** Clips that come in as takes, each of the voice its name tells. */
  readonly clips: readonly string[];
  readonly guide?: string | undefined;
  /** All that was found by itself is found anew. */
  readonly anew: boolean;
  /** Reads a moment, "0:41.2"; throws where it is none. */
  readonly momentOf: (text: string) => number;
}

/** Where the takes of a session lie, and what was done to that. */
export interface LineUpOfSession extends LineUpReport {
  readonly done: readonly string[];
  readonly notes: readonly string[];
}

/** A pin is meant by a moment this near to it, s. */
const MEANS_PIN_SEC = 0.5;

/**
 * Lines up what has no place yet in a session, does to places what is said, and tells where each take lies. What the user laid
 * stays but for what is said. Throws PartsongError or CancelledError; the session is then as it was.
 */
export async function lineUpSession(options: LineUpSessionOptions): Promise<LineUpOfSession> {
  const { value, notes } = await withSession(options.session, async (draft) => {
    const done: string[] = [];
    const told: string[] = [];
    const { clips } = withoutRepeats(options.clips);
    const { guide } = options;
    let read: TakesRead = new Map();
    if (clips.length > 0 || guide !== undefined) {
      const voices = assignClips(clips, { by: 'name' });
      const brought = await bringIn(draft, { voices, apart: false, guide, clean: USUAL_CLEAN }, options);
      told.push(...brought.notes);
      read = brought.read;
    }
    if (options.anew) read = await readTakes(draft.session.takes, draft.desk, options);
    await placeTakes(draft, read, options, { anew: options.anew });
    const pinned = options.pins.map((text) => takeNamed(draft.session, pinSaid(text).name));
    if (pinned.length > 0) read = await readTakes(pinned, draft.desk, options);
    done.push(...said(draft, options, read));
    if (guide !== undefined) draft.keep();
    await keepGuide(draft, guide);
    return { takes: draft.session.takes.map(reportOf), done, told };
  });
  return { takes: value.takes, done: value.done, notes: [...notes, ...value.told] };
}

function reportOf({ clip, name, placement }: Take): LineUpReport['takes'][number] {
  if (placement === null) throw new RangeError(`${name} has no place`);
  return { file: basename(clip.path), name, placement: placementReport(placement), notes: [] };
}

/** Does what was said, in an order in which one thing can stand on the other; gives what was done, for people. */
function said(draft: Draft, options: LineUpSessionOptions, read: TakesRead): string[] {
  const { momentOf } = options;
  return [
    ...options.back.map((name) => goBack(draft, name)),
    ...options.moves.map((text) => move(draft, text)),
    ...options.unpins.map((text) => unpin(draft, text, momentOf)),
    ...options.pins.map((text) => pin(draft, text, momentOf, read)),
    ...options.lost.map((text) => loseAt(draft, text, momentOf)),
    ...options.alone.map((name) => pinsAlone(draft, name)),
    ...options.accept.map((name) => accept(draft, name)),
  ];
}

function pinSaid(text: string): { readonly name: string; readonly value: string } {
  return namedValue(text, '--pin', 'flute t2=0:41.20@1:02.35');
}

function pin(draft: Draft, text: string, momentOf: (text: string) => number, read: TakesRead): string {
  const { name, value } = pinSaid(text);
  const take = takeNamed(draft.session, name);
  const [inTake, inSession, ...more] = value.split('@');
  if (inSession === undefined || more.length > 0) {
    const next = 'Write the moment in the take, @, and its session time: --pin "flute t2=0:41.20@1:02.35".';
    throw new PartsongError('bad-option', `"${text}" does not say which moment belongs where.`, next);
  }
  const takeSec = momentOf(inTake!);
  const atSec = momentOf(inSession);
  const taken = read.get(take.id);
  const lengthSec = taken === undefined ? Number.POSITIVE_INFINITY : taken.lengthFrames / taken.rateHz;
  if (takeSec < 0 || takeSec > lengthSec) {
    const message = `${take.name} has no moment ${time(takeSec)}: it is ${time(lengthSec)} long.`;
    throw new PartsongError('bad-option', message, 'Name a moment of the take first, then @ and its session time.');
  }
  const near = nearestPin(take, takeSec);
  lay(draft, take, withAnchor(take.placement, { takeSec, atSec, jumpTakeSec: null }, near?.takeSec));
  return `${take.name}: ${time(takeSec)} of it is pinned to ${time(atSec)} of the session${near === undefined ? '' : ', in place of the pin that stood there'}.`;
}

function unpin(draft: Draft, text: string, momentOf: (text: string) => number): string {
  const isCalled = draft.session.takes.some((take) => take.name === text.trim());
  if (isCalled || !text.includes('=')) {
    const take = takeNamed(draft.session, text);
    const pins = anchorsOf(take.placement);
    if (take.placement === null || pins.length === 0) throw noPin(take);
    draft.decide({ kind: 'setPlacement', takeId: take.id, placement: backToFound(take.placement) });
    return `${take.name}: ${pins.length === 1 ? 'its pin is' : `its ${pins.length} pins are`} gone; it lies where it was found.`;
  }
  const { name, value } = namedValue(text, '--unpin', 'flute t2=0:41.20');
  const take = takeNamed(draft.session, name);
  const near = nearestPin(take, momentOf(value));
  if (take.placement === null || near === undefined) throw noPin(take);
  lay(draft, take, withoutAnchor(take.placement, near.takeSec));
  return `${take.name}: the pin at ${time(near.takeSec)} of it is gone.`;
}

function loseAt(draft: Draft, text: string, momentOf: (text: string) => number): string {
  const { name, value } = namedValue(text, '--lost', 'flute t2=0:50');
  const take = takeNamed(draft.session, name);
  const atSec = momentOf(value);
  const after = anchorsOf(take.placement).findIndex(({ takeSec }) => takeSec >= atSec);
  if (take.placement === null || after < 1) {
    const message = `The moment ${value} of ${take.name} does not lie between two pins.`;
    throw new PartsongError('bad-option', message, 'Pin a moment before and one after it first, with --pin.');
  }
  lay(draft, take, withJump(take.placement, anchorsOf(take.placement)[after]!.takeSec, atSec));
  return `${take.name}: sound is missing, or doubled, at ${time(atSec)} of it.`;
}

function move(draft: Draft, text: string): string {
  const { name, value } = namedValue(text, '--move', 'flute t2=-12');
  const take = takeNamed(draft.session, name);
  const byMs = Number(value.replace('−', '-'));
  if (!Number.isFinite(byMs)) {
    throw new PartsongError('bad-option', `"${value}" is no number of ms.`, 'For example: --move "flute t2=-12".');
  }
  const offsetSec = (take.placement?.offsetSec ?? 0) + byMs / 1000;
  const placement = laidByHand(take.placement, Math.round(offsetSec * SESSION_RATE_HZ), Math.max(0, offsetSec));
  draft.decide({ kind: 'setPlacement', takeId: take.id, placement });
  return `${take.name}: now ${Math.abs(byMs)} ms ${byMs < 0 ? 'earlier' : 'later'}.`;
}

function pinsAlone(draft: Draft, name: string): string {
  const take = takeNamed(draft.session, name);
  if (take.placement === null || anchorsOf(take.placement).length === 0) throw noPin(take);
  lay(draft, take, withAnchorsAlone(take.placement, true));
  return `${take.name}: its pins alone tell its clock.`;
}

function accept(draft: Draft, name: string): string {
  const take = takeNamed(draft.session, name);
  const placement = acceptedByHand(take.placement);
  if (placement === undefined) return `${take.name}: its place asks nothing.`;
  draft.decide({ kind: 'setPlacement', takeId: take.id, placement });
  return `${take.name}: its place is taken as it is.`;
}

function goBack(draft: Draft, name: string): string {
  const take = takeNamed(draft.session, name);
  if (take.placement === null || take.placement.by === 'found') return `${take.name}: it lies where it was found.`;
  const found = backToFound(take.placement);
  if (found === null) {
    const message = `Nothing was found of where ${take.name} lies, so there is nothing to go back to.`;
    throw new PartsongError('bad-option', message, 'Pin it, or move it.');
  }
  draft.decide({ kind: 'setPlacement', takeId: take.id, placement: found });
  return `${take.name}: back where it was found.`;
}

function lay(draft: Draft, take: Take, laid: Laid<Placement | null>): void {
  if (laid.kind === 'refused') {
    throw new PartsongError('bad-option', `${take.name} cannot be pinned so: ${laid.reason}`, 'Nothing was changed.');
  }
  draft.decide({ kind: 'setPlacement', takeId: take.id, placement: laid.value });
}

function nearestPin({ placement }: Take, takeSec: number): { readonly takeSec: number } | undefined {
  const near = anchorsOf(placement).filter((one) => Math.abs(one.takeSec - takeSec) <= MEANS_PIN_SEC);
  return near.sort((a, b) => Math.abs(a.takeSec - takeSec) - Math.abs(b.takeSec - takeSec))[0];
}

function noPin({ name }: Take): PartsongError {
  return new PartsongError(
    'bad-option',
    `${name} has no pin there.`,
    `"partsong lineup SESSION" tells which pins there are.`,
  );
}
