import { mendsAnything } from '../../../core/pitch/mend.ts';
import { heardTakes, joinsOf, soundingTake } from '../../../core/session/passages.ts';
import type { Session, Take, Voice } from '../../../core/session/schema.ts';
import { type CleanedTake, cleanTaken } from '../clean-taken.ts';
import { type Composed, compose, type ReadyTake, soundOfTake } from '../composed-voice.ts';
import type { Desk } from '../desk.ts';
import { matchTaken } from '../match-joins.ts';
import { measureTaken } from '../measure-taken.ts';
import { type MendedTake, mendTaken } from '../mend-taken.ts';
import { blendParts, type HeardPart } from '../mix-plan.ts';
import { expectedSilence } from '../placement.ts';
import { countOf, type RenderPart } from '../render-mix.ts';
import type { TakesRead } from './read-takes.ts';
import { type Running, runs } from './session-work.ts';

/** The takes that the voices of a session sound with, each once; those of muted voices too, since their stems are made. */
export function soundingTakes(session: Session): Take[] {
  return [
    ...new Set(
      session.voices.flatMap((voice) => {
        const main = soundingTake(session, voice);
        return main === undefined ? [] : [main, ...heardTakes(session, voice)];
      }),
    ),
  ];
}

/** Takes cleaned, mended and measured as the session has it, by take id. All must have a place. */
export async function readyTakes(
  session: Session,
  takes: readonly Take[],
  read: TakesRead,
  desk: Desk,
  running: Running,
): Promise<ReadonlyMap<string, ReadyTake>> {
  const { cache, pool } = desk;
  const cleaned = await cleanedTakes(session, takes, read, desk, running);
  const soundsOf = (take: Take) => soundOfTake({ taken: read.get(take.id)!, cleaned: cleaned.get(take.id) });
  const toMend = takes.flatMap((take) => (mendsAnything(take.mend) ? [{ take, mend: take.mend }] : []));
  const mended = new Map<string, MendedTake>();
  if (toMend.length > 0) {
    const wishes = toMend.map(({ take, mend }) => ({ sound: soundsOf(take), mend }));
    const done = await mendTaken(wishes, cache, pool, runs(running, `Mending ${countOf(toMend.length)}`));
    for (const [index, { take }] of toMend.entries()) mended.set(take.id, done[index]!);
  }
  const sounds = takes.map((take) =>
    soundOfTake({ taken: read.get(take.id)!, cleaned: cleaned.get(take.id), mended: mended.get(take.id) }),
  );
  const loudness = await measureTaken(sounds, cache, pool, runs(running, `Measuring ${countOf(takes.length)}`));
  return new Map(
    takes.map((take, index): [string, ReadyTake] => [
      take.id,
      {
        take,
        taken: read.get(take.id)!,
        cleaned: cleaned.get(take.id),
        mended: mended.get(take.id),
        placement: take.placement!,
        loudness: loudness[index]!,
      },
    ]),
  );
}

/** Cleaned takes by their ids; none where the noise is to stay. Takes that are cleaned alike are cleaned together. */
async function cleanedTakes(
  session: Session,
  takes: readonly Take[],
  read: TakesRead,
  desk: Desk,
  running: Running,
): Promise<ReadonlyMap<string, CleanedTake>> {
  const plan = session.guide?.plan ?? null;
  const groups = new Map<string, Take[]>();
  for (const take of takes) {
    if (!take.clean.on) continue;
    const key = JSON.stringify(take.clean);
    groups.set(key, [...(groups.get(key) ?? []), take]);
  }
  const all = new Map<string, CleanedTake>();
  for (const group of groups.values()) {
    const { character, rule, fine } = group[0]!.clean;
    const wish = {
      character,
      rule,
      given: group.map(({ silence }) => silence ?? undefined),
      expected: group.map(({ placement }) => expectedSilence(plan, placement)),
      ...(fine === null ? {} : { fine }),
    };
    const done = await cleanTaken(
      group.map(({ id }) => read.get(id)!),
      wish,
      desk.cache,
      desk.pool,
      runs(running, `Cleaning ${countOf(group.length)}`),
    );
    for (const [index, { id }] of group.entries()) all.set(id, done[index]!);
  }
  return all;
}

/** The voices of a session that sound, blended; `ready` holds all that `soundingTakes` names. */
export async function sessionParts(
  session: Session,
  ready: ReadonlyMap<string, ReadyTake>,
  desk: Desk,
  running: Running,
): Promise<RenderPart[]> {
  const parts: HeardPart[] = [];
  for (const voice of session.voices) {
    const main = soundingTake(session, voice);
    if (main === undefined) continue;
    parts.push({ ...ready.get(main.id)!, voice, composed: await composedOf(voice, main.id, ready, desk, running) });
  }
  return blendParts(parts, session);
}

async function composedOf(
  voice: Voice,
  mainTakeId: string,
  ready: ReadonlyMap<string, ReadyTake>,
  desk: Desk,
  running: Running,
): Promise<Composed | null> {
  const { passages } = voice;
  if (passages === null) return null;
  const wishes = joinsOf(passages).map(({ leftTakeId, rightTakeId, atSec }) => ({
    left: ready.get(leftTakeId)!,
    right: ready.get(rightTakeId)!,
    atSec,
  }));
  const matches = await matchTaken(wishes, desk.cache, desk.pool, runs(running, `Joining passages of ${voice.name}`));
  return compose(passages, ready, mainTakeId, matches);
}
