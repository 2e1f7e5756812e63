import { assertNever } from '../signal/fault.ts';
import type { KeptPlan } from './kept-plan.ts';
import { withoutTake } from './passages.ts';
import { passagesFault } from './passages-fault.ts';
import { withParts, withTileChoice } from './picture-choice.ts';
import type { PictureChoice, TileChoice } from './picture-schema.ts';
import { type PlacementPart, withChanges } from './placement-parts.ts';
import type {
  CleanChoice,
  ClipRef,
  Mend,
  Passage,
  Placement,
  Role,
  Session,
  Span,
  Take,
  TakeMark,
  Voice,
} from './schema.ts';
import { withPart } from './take-part.ts';

/** Everything that can be done to a session. An edit is plain JSON: it crosses threads and is kept in the history. */
export type Edit =
  | { kind: 'addVoice'; voice: Voice; at?: number }
  | { kind: 'removeVoice'; voiceId: string }
  | { kind: 'moveVoice'; voiceId: string; to: number }
  | { kind: 'renameVoice'; voiceId: string; name: string }
  | { kind: 'setRole'; voiceId: string; role: Role }
  | { kind: 'setColour'; voiceId: string; colour: number }
  | { kind: 'setTrim'; voiceId: string; trimDb: number }
  | { kind: 'setPlace'; voiceId: string; placeDeg: number | null }
  | { kind: 'setMuted'; voiceId: string; muted: boolean }
  /** The voice sounds with this take alone: its passages are gone. */
  | { kind: 'chooseTake'; voiceId: string; takeId: string | null }
  /** null or none: the voice sounds with its chosen take alone; one: with that take, which is chosen then. */
  | { kind: 'setPassages'; voiceId: string; passages: readonly Passage[] | null }
  | { kind: 'addTake'; take: Take }
  | { kind: 'removeTake'; takeId: string }
  /** Gives a take to another voice; where its old voice had chosen it, that voice has none chosen then. */
  | { kind: 'moveTake'; takeId: string; voiceId: string }
  | { kind: 'renameTake'; takeId: string; name: string }
  | { kind: 'setMark'; takeId: string; mark: TakeMark }
  | { kind: 'setRemark'; takeId: string; remark: string }
  | { kind: 'setSilence'; takeId: string; silence: Span | null }
  | { kind: 'setClean'; takeId: string; clean: CleanChoice }
  | { kind: 'setPlacement'; takeId: string; placement: Placement | null }
  /** Parts of the placement that a take has; the others stay, but for those that are gone. See smallerEdit. */
  | { kind: 'changePlacement'; takeId: string; changes: Partial<Placement>; gone: readonly PlacementPart[] }
  /** null: nothing is mended. */
  | { kind: 'setMend'; takeId: string; mend: Mend | null }
  /** Which stretch of its clip a take is, clip time; null: all of it. What sounds stays where it sounded. */
  | { kind: 'setPart'; takeId: string; part: Span | null }
  | { kind: 'relinkTake'; takeId: string; clip: ClipRef }
  /** Without `plan` the plan stays where the clip is the same by content, as when it is found elsewhere; else there is none. */
  | { kind: 'setGuide'; clip: ClipRef | null; plan?: KeptPlan | null }
  | { kind: 'setTitle'; title: string }
  | { kind: 'setTarget'; targetLufs: number; ceilingDbtp: number }
  /** Parts of what is chosen for the picture; null: as if nothing had been chosen. */
  | { kind: 'setPicture'; parts: Partial<PictureChoice> | null }
  /** What is settled for the tile of a voice; null: nothing. */
  | { kind: 'setTile'; voiceId: string; tile: TileChoice | null }
  /** Several edits that are one step for undo. */
  | { kind: 'together'; label: string; edits: readonly Edit[] };

/** The session after an edit. Pure. Throws RangeError for an id or a value that cannot be. */
export function apply(session: Session, edit: Edit): Session {
  switch (edit.kind) {
    case 'addVoice': {
      if (session.voices.some((voice) => voice.id === edit.voice.id))
        throw new RangeError(`voice ${edit.voice.id} exists`);
      const at = edit.at ?? session.voices.length;
      return { ...session, voices: session.voices.toSpliced(at, 0, edit.voice) };
    }
    case 'removeVoice': {
      voiceOf(session, edit.voiceId);
      return {
        ...session,
        voices: session.voices.filter((voice) => voice.id !== edit.voiceId),
        takes: session.takes.filter((take) => take.voiceId !== edit.voiceId),
        picture: session.picture === null ? null : withTileChoice(session.picture, edit.voiceId, null),
      };
    }
    case 'moveVoice': {
      const voice = voiceOf(session, edit.voiceId);
      const others = session.voices.filter((other) => other !== voice);
      return { ...session, voices: others.toSpliced(Math.max(0, Math.min(others.length, edit.to)), 0, voice) };
    }
    case 'renameVoice':
      return withVoice(session, edit.voiceId, { name: edit.name });
    case 'setRole':
      return withVoice(session, edit.voiceId, { role: edit.role });
    case 'setColour':
      return withVoice(session, edit.voiceId, { colour: edit.colour });
    case 'setTrim':
      return withVoice(session, edit.voiceId, { trimDb: edit.trimDb });
    case 'setPlace':
      return withVoice(session, edit.voiceId, { placeDeg: edit.placeDeg });
    case 'setMuted':
      return withVoice(session, edit.voiceId, { muted: edit.muted });
    case 'chooseTake': {
      if (edit.takeId !== null && takeOf(session, edit.takeId).voiceId !== edit.voiceId) {
        throw new RangeError(`take ${edit.takeId} is not of voice ${edit.voiceId}`);
      }
      return withVoice(session, edit.voiceId, { chosenTakeId: edit.takeId, passages: null });
    }
    case 'setPassages': {
      const { voiceId, passages } = edit;
      voiceOf(session, voiceId);
      const fault = passagesFault(passages ?? [], (takeId) => takeOf(session, takeId).voiceId === voiceId);
      if (fault !== undefined) throw new RangeError(`passages of ${voiceId}: ${fault}`);
      return withVoice(session, voiceId, passagesOrOne(passages));
    }
    case 'addTake': {
      if (session.takes.some((take) => take.id === edit.take.id)) throw new RangeError(`take ${edit.take.id} exists`);
      voiceOf(session, edit.take.voiceId);
      return { ...session, takes: [...session.takes, edit.take] };
    }
    case 'removeTake': {
      takeOf(session, edit.takeId);
      return {
        ...session,
        takes: session.takes.filter((take) => take.id !== edit.takeId),
        voices: session.voices.map((voice) => voiceWithout(voice, edit.takeId)),
      };
    }
    case 'moveTake': {
      voiceOf(session, edit.voiceId);
      const from = takeOf(session, edit.takeId).voiceId;
      const moved = withTake(session, edit.takeId, { voiceId: edit.voiceId });
      if (from === edit.voiceId) return moved;
      return withVoice(moved, from, voiceWithout(voiceOf(session, from), edit.takeId));
    }
    case 'renameTake':
      return withTake(session, edit.takeId, { name: edit.name });
    case 'setMark':
      return withTake(session, edit.takeId, { mark: edit.mark });
    case 'setRemark':
      return withTake(session, edit.takeId, { remark: edit.remark });
    case 'setSilence':
      return withTake(session, edit.takeId, { silence: edit.silence });
    case 'setClean':
      return withTake(session, edit.takeId, { clean: edit.clean });
    case 'setPlacement':
      return withTake(session, edit.takeId, { placement: edit.placement });
    case 'changePlacement': {
      const { takeId, changes, gone } = edit;
      const { placement } = takeOf(session, takeId);
      if (placement === null) throw new RangeError(`take ${takeId} has no placement`);
      return withTake(session, takeId, { placement: withChanges(placement, changes, gone) });
    }
    case 'setMend':
      return withTake(session, edit.takeId, { mend: edit.mend });
    case 'setPart':
      return withTake(session, edit.takeId, withPart(takeOf(session, edit.takeId), edit.part));
    case 'relinkTake':
      return withTake(session, edit.takeId, { clip: edit.clip });
    case 'setGuide':
      return {
        ...session,
        guide: edit.clip === null ? null : { clip: edit.clip, plan: planOf(session, edit.clip, edit.plan) },
      };
    case 'setTitle':
      return { ...session, title: edit.title };
    case 'setTarget':
      return { ...session, mix: { targetLufs: edit.targetLufs, ceilingDbtp: edit.ceilingDbtp } };
    case 'setPicture':
      return { ...session, picture: edit.parts === null ? null : withParts(session.picture, edit.parts) };
    case 'setTile':
      voiceOf(session, edit.voiceId);
      return { ...session, picture: withTileChoice(session.picture, edit.voiceId, edit.tile) };
    case 'together':
      return edit.edits.reduce(apply, session);
    default:
      return assertNever(edit);
  }
}

function planOf(session: Session, clip: ClipRef, plan: KeptPlan | null | undefined): KeptPlan | null {
  if (plan !== undefined) return plan;
  return session.guide?.clip.fingerprint === clip.fingerprint ? session.guide.plan : null;
}

/** A voice that has lost a take; the same where it was not in use. */
function voiceWithout(voice: Voice, takeId: string): Voice {
  const chosenTakeId = voice.chosenTakeId === takeId ? null : voice.chosenTakeId;
  const passages = voice.passages === null ? null : withoutTake(voice.passages, takeId);
  if (chosenTakeId === voice.chosenTakeId && passages === voice.passages) return voice;
  return { ...voice, chosenTakeId, ...passagesOrOne(passages) };
}

/** One passage alone is a chosen take. */
function passagesOrOne(passages: readonly Passage[] | null): Pick<Voice, 'passages'> & Partial<Voice> {
  const only = passages?.[0];
  if (passages === null || only === undefined) return { passages: null };
  return passages.length === 1 ? { passages: null, chosenTakeId: only.takeId } : { passages: [...passages] };
}

function voiceOf(session: Session, voiceId: string): Voice {
  const voice = session.voices.find((one) => one.id === voiceId);
  if (voice === undefined) throw new RangeError(`there is no voice ${voiceId}`);
  return voice;
}

function takeOf(session: Session, takeId: string): Take {
  const take = session.takes.find((one) => one.id === takeId);
  if (take === undefined) throw new RangeError(`there is no take ${takeId}`);
  return take;
}

function withVoice(session: Session, voiceId: string, change: Partial<Voice>): Session {
  const voice = voiceOf(session, voiceId);
  return { ...session, voices: session.voices.map((one) => (one === voice ? { ...voice, ...change } : one)) };
}

function withTake(session: Session, takeId: string, change: Partial<Take>): Session {
  const take = takeOf(session, takeId);
  return { ...session, takes: session.takes.map((one) => (one === take ? { ...take, ...change } : one)) };
}
