import { type CleanSettings, settingsOf } from '../../../core/noise/settings.ts';
import type { Edit } from '../../../core/session/edit.ts';
import type { CleanChoice, Session } from '../../../core/session/schema.ts';

/** Settings that can be moved one by one. */
export type FineSettings = NonNullable<CleanChoice['fine']>;

/** The settings in force for a choice: the character's own, or those moved away from it. */
export function fineInForce(clean: CleanChoice): FineSettings {
  return clean.fine ?? characterSettings(clean);
}

/** A character's own settings. */
export function characterSettings(clean: Pick<CleanChoice, 'character' | 'rule'>): FineSettings {
  const own: CleanSettings = settingsOf(clean.character, clean.rule);
  return {
    reductionDb: own.reductionDb,
    steadiness: own.steadiness,
    marginDb: own.marginDb,
    lineMarginDb: own.lineMarginDb,
    follow: own.follow,
    restoreClipped: own.restoreClipped,
  };
}

/** A choice with one setting moved; with all back at the character's own, it is the character again. */
export function withFine(clean: CleanChoice, moved: Partial<FineSettings>): CleanChoice {
  const fine = { ...fineInForce(clean), ...moved };
  const own = characterSettings(clean);
  const isOwn = (Object.keys(own) as (keyof FineSettings)[]).every((key) => fine[key] === own[key]);
  return { ...clean, fine: isOwn ? null : fine };
}

/** Gives one take's choice to all others as one step; undefined when all have it already. */
export function cleanAllEdit(session: Session, clean: CleanChoice): Edit | undefined {
  const others = session.takes.filter((take) => !sameChoice(take.clean, clean));
  if (others.length === 0) return undefined;
  return {
    kind: 'together',
    label: 'Clean all takes alike',
    edits: others.map((take) => ({ kind: 'setClean', takeId: take.id, clean })),
  };
}

/** Whether two choices clean alike. */
export function sameChoice(one: CleanChoice, other: CleanChoice): boolean {
  const first = fineInForce(one);
  const second = fineInForce(other);
  return (
    one.on === other.on &&
    one.rule === other.rule &&
    one.character === other.character &&
    (Object.keys(first) as (keyof FineSettings)[]).every((key) => first[key] === second[key])
  );
}
