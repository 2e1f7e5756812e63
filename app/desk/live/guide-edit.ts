import type { Edit } from '../../../core/session/edit.ts';
import type { KeptPlan } from '../../../core/session/kept-plan.ts';
import type { ClipRef, Session, Voice } from '../../../core/session/schema.ts';
import { rolesOf } from '../names.ts';

type SingleEdit = Exclude<Edit, { kind: 'together' }>;

const MOST_VOICES = 200;
const LONGEST_NAME = 200;
const COLOURS = 6;

/**
 * The edit that gives a session its guide, or takes it away; undefined where it is the guide already. Another guide sets
 * session time zero elsewhere: takes placed by hand are placed anew. One step of undo.
 */
export function guideEdit(session: Session, clip: ClipRef | null, plan: KeptPlan | null): Edit | undefined {
  const isSame = (session.guide?.clip.fingerprint ?? null) === (clip?.fingerprint ?? null);
  if (isSame && JSON.stringify(session.guide?.plan ?? null) === JSON.stringify(plan)) return undefined;
  const byHand = session.takes.filter(({ placement }) => placement?.by === 'user');
  return {
    kind: 'together',
    label: clip === null ? 'remove the guide' : 'choose the guide',
    edits: [
      { kind: 'setGuide', clip, plan },
      ...byHand.map(({ id }) => ({ kind: 'setPlacement', takeId: id, placement: null }) as const),
    ],
  };
}

/** The same for a guide that was made here: a session without voices gets those of its score, in the order of the score. */
export function madeGuideEdit(session: Session, clip: ClipRef, plan: KeptPlan | null): Edit | undefined {
  const chosen = guideEdit(session, clip, plan);
  const edits: SingleEdit[] = chosen?.kind === 'together' ? [...chosen.edits].filter(isSingle) : [];
  if (session.voices.length === 0) {
    for (const voice of voicesOf(plan?.voices ?? [])) edits.push({ kind: 'addVoice', voice });
  }
  return edits.length === 0 ? undefined : { kind: 'together', label: 'make the guide', edits };
}

function isSingle(edit: Edit): edit is SingleEdit {
  return edit.kind !== 'together';
}

function voicesOf(names: readonly string[]): Voice[] {
  const known = names.slice(0, MOST_VOICES).map((name, at) => name.trim().slice(0, LONGEST_NAME) || `Voice ${at + 1}`);
  const roles = rolesOf(known, undefined);
  return known.map((name, at) => ({
    id: `voice-${at + 1}`,
    name,
    role: roles[at]!,
    colour: at % COLOURS,
    trimDb: 0,
    placeDeg: null,
    muted: false,
    chosenTakeId: null,
    passages: null,
  }));
}
