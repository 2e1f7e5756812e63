import type { JoinMatch } from '../../../core/mix/join.ts';
import { heardTakes, joinsOf, soundingTake } from '../../../core/session/passages.ts';
import type { Session, Voice } from '../../../core/session/schema.ts';
import { type Composed, compose, type ReadyTake } from '../composed-voice.ts';
import { joinKey, matchTaken } from '../match-joins.ts';
import { type Bench, use } from './bench.ts';
import type { Standing } from './ledger.ts';
import type { TakeProgress } from './take-state.ts';

/** How far the sound of one voice has come. */
export interface VoiceWork {
  readonly voice: Voice;
  /** Its one take, or the main one of its passages; undefined until all of them can be mixed. */
  readonly main: ReadyTake | undefined;
  /** null: it sounds with one take. undefined: its joins are not known yet. */
  readonly composed: Composed | null | undefined;
  /** Something is still waited for. */
  readonly waiting: boolean;
  /** Why it cannot be heard, for people; null where it can. */
  readonly note: string | null;
  readonly fault: unknown;
}

/** The sounds of all voices that have a take to sound with; asks for what their joins need. */
export function needVoices(bench: Bench, session: Session, takes: readonly TakeProgress[]): VoiceWork[] {
  const progressOf = new Map(takes.map((take) => [take.id, take]));
  return session.voices.flatMap((voice): VoiceWork[] => {
    const main = soundingTake(session, voice);
    const heard = heardTakes(session, voice).flatMap((take) => progressOf.get(take.id) ?? []);
    const mainProgress = main === undefined ? undefined : progressOf.get(main.id);
    if (mainProgress === undefined) return [];
    const all = heard.includes(mainProgress) ? heard : [mainProgress, ...heard];
    const waiting = all.some(
      (progress) => !progress.settled || (progress.sound !== undefined && progress.take.placement === null),
    );
    const lost = all.find((progress) => progress.settled && progress.sound === undefined);
    const note = lost === undefined ? null : lostNote(voice, lost, all.length);
    const ready = new Map(all.flatMap((progress) => readyOf(progress) ?? []).map((one) => [one.take.id, one]));
    const nothing = { voice, main: undefined, composed: null, waiting, note, fault: null };
    const mainReady = ready.get(mainProgress.id);
    if (voice.passages === null) return [{ ...nothing, main: mainReady }];
    if (ready.size < all.length) return [nothing];
    return [{ ...nothing, main: mainReady, ...needComposed(bench, voice, ready, mainProgress.id, waiting) }];
  });
}

/** A take with all that a mix needs; undefined until it is there. */
export function readyOf({ take, loudness, taken, cleaned, mended }: TakeProgress): ReadyTake | undefined {
  const { placement } = take;
  if (loudness === undefined || taken === undefined || placement === null) return undefined;
  return { take, taken, cleaned, mended, placement, loudness };
}

function lostNote(voice: Voice, lost: TakeProgress, count: number): string {
  return count === 1
    ? `${voice.name} is not in the mix: its clip is missing or cannot be used.`
    : `${voice.name} is not in the mix: the clip of ${lost.take.name} is missing or cannot be used.`;
}

function needComposed(
  bench: Bench,
  voice: Voice,
  ready: ReadonlyMap<string, ReadyTake>,
  mainTakeId: string,
  waiting: boolean,
): Pick<VoiceWork, 'composed' | 'waiting' | 'fault'> {
  const passages = voice.passages ?? [];
  const matches: JoinMatch[] = [];
  let fault: unknown = null;
  let missing = false;
  for (const { atSec, leftTakeId, rightTakeId } of joinsOf(passages)) {
    const standing = needMatch(bench, ready.get(leftTakeId)!, ready.get(rightTakeId)!, atSec);
    if (standing.state === 'done') matches.push(standing.value);
    else {
      missing = true;
      if (standing.state === 'fault') fault = standing.fault;
    }
  }
  if (missing) return { composed: undefined, waiting: true, fault };
  return { composed: compose(passages, ready, mainTakeId, matches), waiting, fault: null };
}

function needMatch(bench: Bench, left: ReadyTake, right: ReadyTake, atSec: number): Standing<JoinMatch> {
  const wish = { left, right, atSec };
  const key = joinKey(wish);
  use(bench, key);
  return bench.ledger.need<JoinMatch>({
    key: `join:${key}`,
    stage: 'measure',
    known: () => bench.cache.record<JoinMatch>(key),
    run: async (signal, onProgress) => {
      const [match] = await matchTaken([wish], bench.cache, bench.pool, { signal, onProgress });
      return match!;
    },
  });
}
