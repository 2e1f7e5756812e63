import { apply, type Edit } from '../../core/session/edit.ts';
import type { Session, Take, Voice } from '../../core/session/schema.ts';
import { smallerEdit } from '../../core/session/small-edit.ts';
import { withPart } from '../../core/session/take-part.ts';

/**
 * Edits of single voices and takes that lead from one session to another; undefined when such edits cannot (voices or
 * takes came, went or moved). `isSame` compares by content. Small where little differs, so that a history can tell a
 * placement that was found between two steps without repeating the session.
 */
export function editsBetween(
  from: Session,
  to: Session,
  isSame: (one: unknown, other: unknown) => boolean,
): Edit[] | undefined {
  const edits: Edit[] = [];
  const differs = (one: unknown, other: unknown): boolean => one !== other && !isSame(one, other);
  from.takes.forEach((take, index) => {
    const wanted = to.takes[index];
    if (wanted?.id === take.id) edits.push(...takeEdits(take, wanted, differs));
  });
  from.voices.forEach((voice, index) => {
    const wanted = to.voices[index];
    if (wanted?.id === voice.id) edits.push(...voiceEdits(voice, wanted, differs));
  });
  if (differs(from.guide, to.guide))
    edits.push({ kind: 'setGuide', clip: to.guide?.clip ?? null, plan: to.guide?.plan ?? null });
  if (from.title !== to.title) edits.push({ kind: 'setTitle', title: to.title });
  if (differs(from.mix, to.mix)) edits.push({ kind: 'setTarget', ...to.mix });
  try {
    let reached = from;
    const small = edits.map((edit) => {
      const smaller = smallerEdit(reached, edit);
      reached = apply(reached, smaller);
      return smaller;
    });
    return isSame(reached, to) ? small : undefined;
  } catch {
    return undefined;
  }
}

function takeEdits(from: Take, to: Take, differs: (one: unknown, other: unknown) => boolean): Edit[] {
  const takeId = from.id;
  const edits: Edit[] = [];
  if (from.name !== to.name) edits.push({ kind: 'renameTake', takeId, name: to.name });
  if (from.voiceId !== to.voiceId) edits.push({ kind: 'moveTake', takeId, voiceId: to.voiceId });
  if (differs(from.clip, to.clip)) edits.push({ kind: 'relinkTake', takeId, clip: to.clip });
  // What is told in a take's own time moves with its part, so that it is compared after.
  const held = differs(from.part, to.part) ? withPart(from, to.part) : from;
  if (held !== from) edits.push({ kind: 'setPart', takeId, part: to.part });
  if (from.mark !== to.mark) edits.push({ kind: 'setMark', takeId, mark: to.mark });
  if (from.remark !== to.remark) edits.push({ kind: 'setRemark', takeId, remark: to.remark });
  if (differs(held.silence, to.silence)) edits.push({ kind: 'setSilence', takeId, silence: to.silence });
  if (differs(from.clean, to.clean)) edits.push({ kind: 'setClean', takeId, clean: to.clean });
  if (differs(held.mend, to.mend)) edits.push({ kind: 'setMend', takeId, mend: to.mend });
  if (differs(held.placement, to.placement)) edits.push({ kind: 'setPlacement', takeId, placement: to.placement });
  return edits;
}

function voiceEdits(from: Voice, to: Voice, differs: (one: unknown, other: unknown) => boolean): Edit[] {
  const voiceId = from.id;
  const edits: Edit[] = [];
  if (from.name !== to.name) edits.push({ kind: 'renameVoice', voiceId, name: to.name });
  if (from.role !== to.role) edits.push({ kind: 'setRole', voiceId, role: to.role });
  if (from.colour !== to.colour) edits.push({ kind: 'setColour', voiceId, colour: to.colour });
  if (from.trimDb !== to.trimDb) edits.push({ kind: 'setTrim', voiceId, trimDb: to.trimDb });
  if (differs(from.placeDeg, to.placeDeg)) edits.push({ kind: 'setPlace', voiceId, placeDeg: to.placeDeg });
  if (from.muted !== to.muted) edits.push({ kind: 'setMuted', voiceId, muted: to.muted });
  if (from.chosenTakeId !== to.chosenTakeId) {
    edits.push({ kind: 'chooseTake', voiceId, takeId: to.chosenTakeId });
  }
  const passages = from.chosenTakeId === to.chosenTakeId ? from.passages : null;
  if (differs(passages, to.passages)) edits.push({ kind: 'setPassages', voiceId, passages: to.passages });
  return edits;
}
