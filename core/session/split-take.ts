import type { Edit } from './edit.ts';
import type { Session, Span, Take } from './schema.ts';

/** A part that is to be a take. */
export interface WantedPart extends Span {
  /** It was broken off: the player is taken not to want it. */
  readonly isBrokenOff?: boolean;
}

/**
 * Makes several takes of the clip of one: it becomes the first part that is whole, and keeps its mark and what was chosen; the
 * others follow with its cleaning, and are lined up by themselves. All are named after it in their order, "name, 1". One step
 * of undo. parts: clip time, s, in order. ids: not yet in use, one for each part but one.
 */
export function splitEdit(session: Session, take: Take, parts: readonly WantedPart[], ids: readonly string[]): Edit {
  if (parts.length < 2 || ids.length < parts.length - 1) {
    throw new RangeError(
      `${parts.length} parts and ${ids.length} ids given; allowed 2 parts or more, and an id for each but one`,
    );
  }
  const own = Math.max(
    0,
    parts.findIndex(({ isBrokenOff }) => isBrokenOff !== true),
  );
  const nameOf = (n: number): string => `${take.name.slice(0, 190)}, ${n + 1}`;
  let used = 0;
  const edits = parts.flatMap(({ fromSec, toSec, isBrokenOff }, n): Exclude<Edit, { kind: 'together' }>[] => {
    const part = { fromSec, toSec };
    if (n === own) {
      return [
        { kind: 'setPart', takeId: take.id, part },
        { kind: 'renameTake', takeId: take.id, name: nameOf(n) },
      ];
    }
    const made = partTake(take, part, ids[used++]!, nameOf(n));
    return [{ kind: 'addTake', take: isBrokenOff === true ? { ...made, mark: 'no' } : made }];
  });
  edits.push(...chosenStill(session, take));
  return { kind: 'together', label: `make ${parts.length} takes of ${take.name}`.slice(0, 200), edits };
}

/** Makes a stretch of a take's clip a take of its own, beside it. part: clip time, s. */
export function partEdit(session: Session, take: Take, part: Span, id: string): Edit {
  const names = new Set(session.takes.map(({ name }) => name));
  const stem = take.name.slice(0, 190);
  let n = 2;
  while (names.has(`${stem}, ${n}`)) n++;
  const edits: Exclude<Edit, { kind: 'together' }>[] = [
    { kind: 'addTake', take: partTake(take, part, id, `${stem}, ${n}`) },
  ];
  edits.push(...chosenStill(session, take));
  return { kind: 'together', label: `make a stretch of ${take.name} a take`.slice(0, 200), edits };
}

/** A voice that sounded with its only take without a choice would fall silent with several. */
function chosenStill(session: Session, take: Take): Exclude<Edit, { kind: 'together' }>[] {
  const voice = session.voices.find((one) => one.id === take.voiceId);
  const isOnly = session.takes.filter((one) => one.voiceId === take.voiceId).length === 1;
  if (voice === undefined || voice.chosenTakeId !== null || !isOnly) return [];
  return [{ kind: 'chooseTake', voiceId: voice.id, takeId: take.id }];
}

function partTake(take: Take, part: Span, id: string, name: string): Take {
  return { ...take, id, name, part, silence: null, placement: null, mend: null, mark: 'none', remark: '' };
}
