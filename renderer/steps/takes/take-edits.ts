import type { Edit } from '../../../core/session/edit.ts';
import type { Session, Take, Voice } from '../../../core/session/schema.ts';
import { soundingTake } from '../../desk/desk-store.ts';

/** Takes of a voice, in the order they came. */
export function takesOf(session: Session, voiceId: string): Take[] {
  return session.takes.filter((take) => take.voiceId === voiceId);
}

/** Which take a voice sounds with after one of its takes is gone; undefined when nothing needs to be chosen. */
function nextChoice(session: Session, gone: Take): string | undefined {
  const voice = session.voices.find((one) => one.id === gone.voiceId);
  const others = takesOf(session, gone.voiceId).filter((take) => take !== gone);
  if (voice === undefined || voice.chosenTakeId !== gone.id || others.length < 2) return undefined;
  return others[0]!.id;
}

/** Deletes a take; where it sounded and several are left, the first of them sounds then. */
export function deleteTakeEdit(session: Session, take: Take): Edit {
  const removal: Edit = { kind: 'removeTake', takeId: take.id };
  const next = nextChoice(session, take);
  if (next === undefined) return removal;
  return {
    kind: 'together',
    label: `remove ${take.name}`,
    edits: [removal, { kind: 'chooseTake', voiceId: take.voiceId, takeId: next }],
  };
}

/** Gives a take to another voice. A voice that had none sounds with it then; the one it leaves goes on with its next. */
export function moveTakeEdit(session: Session, take: Take, to: Voice): Edit {
  const edits: Edit[] = [{ kind: 'moveTake', takeId: take.id, voiceId: to.id }];
  const next = nextChoice(session, take);
  if (next !== undefined) edits.push({ kind: 'chooseTake', voiceId: take.voiceId, takeId: next });
  const sounding = soundingTake(session, to);
  // A voice that sounded with its only take without a choice would fall silent with two.
  edits.push({ kind: 'chooseTake', voiceId: to.id, takeId: sounding?.id ?? take.id });
  return { kind: 'together', label: `give ${take.name} to ${to.name}`, edits };
}

/** Makes a voice of its own for a take, below the one it comes from. `voiceId`: an id that is not used yet. */
export function takeToNewVoiceEdit(session: Session, take: Take, voiceId: string): Edit {
  const at = session.voices.findIndex((voice) => voice.id === take.voiceId) + 1;
  const voice: Voice = {
    id: voiceId,
    name: take.name,
    role: 'free',
    colour: freeColour(session),
    trimDb: 0,
    placeDeg: null,
    muted: false,
    chosenTakeId: null,
    passages: null,
  };
  const next = nextChoice(session, take);
  return {
    kind: 'together',
    label: `a voice of its own for ${take.name}`,
    edits: [
      { kind: 'addVoice', voice, at },
      { kind: 'moveTake', takeId: take.id, voiceId },
      { kind: 'chooseTake', voiceId, takeId: take.id },
      ...(next === undefined ? [] : [{ kind: 'chooseTake', voiceId: take.voiceId, takeId: next } as const]),
    ],
  };
}

/** The colour that the fewest voices have. */
export function freeColour(session: Session): number {
  const counts = Array.from(
    { length: 8 },
    (_, colour) => session.voices.filter((voice) => voice.colour === colour).length,
  );
  return counts.indexOf(Math.min(...counts));
}

/** Where a voice goes that is dropped on another: to its place; null when it stays where it is. */
export function dropPosition(order: readonly string[], voiceId: string, onto: string): number | null {
  const to = order.indexOf(onto);
  return to < 0 || !order.includes(voiceId) || onto === voiceId ? null : to;
}
