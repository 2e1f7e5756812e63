import type { DeskView } from '../../../app/shell/contract/desk-view.ts';
import type { Edit } from '../../../core/session/edit.ts';
import { soundingTake } from '../../../core/session/passages.ts';
import type { Session } from '../../../core/session/schema.ts';
import { takesOf } from './take-edits.ts';
import { pieceSpan, sheetOf } from './take-sheet.ts';

type Choice = Extract<Edit, { kind: 'chooseTake' }>;

/** The choices that let every voice sound with its proposed take; of those that do already, or are made of passages, none. */
export function proposedChoices(session: Session, facts: DeskView['takes']): Choice[] {
  const piece = pieceSpan(session, facts);
  return session.voices.flatMap((voice): Choice[] => {
    if (voice.passages !== null) return [];
    const best = sheetOf(takesOf(session, voice.id), facts, piece)?.best;
    if (best == null || soundingTake(session, voice)?.id === best.takeId) return [];
    return [{ kind: 'chooseTake', voiceId: voice.id, takeId: best.takeId }];
  });
}

/** The choices as one step of undo. */
export function proposedEdit(choices: readonly Choice[]): Edit {
  return { kind: 'together', label: `use ${choices.length} proposed takes`, edits: [...choices] };
}
