import { existsSync } from 'node:fs';
import type { TrackedPitch } from '../../../core/pitch/tracked-pitch.ts';
import { soundingTake } from '../../../core/session/passages.ts';
import type { HeardTake, Played } from '../../../core/session/played-figures.ts';
import type { Session } from '../../../core/session/schema.ts';
import { clockOf } from '../../../core/signal/clock.ts';
import { type GuideFile, keptGuideFile } from '../guide-file.ts';
import { type Kept, keptFigures } from '../kept-tuning.ts';
import { isUnplaced } from '../placement.ts';
import { pitchKey, pitchRow, trackTaken } from '../track-taken.ts';
import { type Bench, use } from './bench.ts';
import type { TakeProgress } from './take-state.ts';

/**
 * Timing and pitch of the takes of voices that have several, for choosing among them. They are listened to when that was asked for;
 * what was listened to before is used without asking.
 */
export class PlayedState {
  /** The user wants to know. */
  isWanted = false;
  /** Those found last; they stand until new ones are there, so that a take that is moved does not lose them at each move. */
  #known: ReadonlyMap<string, Played> = new Map();
  /** The cache entry that keeps them. */
  #keptKey: string | undefined;

  /** By take id; none for takes that were not listened to, or are the only ones of their voice. */
  need(bench: Bench, session: Session, takes: readonly TakeProgress[]): ReadonlyMap<string, Played> {
    const several = session.voices.filter(({ id }) => session.takes.filter((take) => take.voiceId === id).length > 1);
    if (several.length === 0) return new Map();
    const compared = takes.filter((progress) => isCompared(session, several, progress));
    const heard = compared.flatMap((progress) => this.#needTrack(bench, progress) ?? []);
    const file = needGuideFile(bench, session);
    const isWhole = heard.length === compared.filter(({ taken }) => taken !== undefined).length;
    if (!isWhole || heard.length === 0 || file === 'waiting') return new Map();
    const key = JSON.stringify([
      heard.map(({ take, sound }) => [take.id, take.voiceId, take.placement, sound.key]),
      session.guide?.clip.fingerprint,
    ]);
    const standing = bench.ledger.need<ReadonlyMap<string, Played>>({
      key: `played:${key}`,
      stage: 'pitch',
      calmMs: 300,
      run: async (signal) => {
        const { key: keptKey, value } = await figuresOf(bench, session, heard, { file, signal });
        this.#keptKey = keptKey;
        return value;
      },
    });
    if (this.#keptKey !== undefined) use(bench, this.#keptKey);
    if (standing.state === 'done') this.#known = standing.value;
    return standing.state === 'fault' ? new Map() : this.#known;
  }

  #needTrack(bench: Bench, { take, taken }: TakeProgress): Tracked | undefined {
    if (taken === undefined) return undefined;
    const key = pitchKey(taken.key);
    use(bench, key);
    if (!this.isWanted && !existsSync(bench.cache.soundPath(key))) return undefined;
    const standing = bench.ledger.need<TrackedPitch>({
      key: `pitch:${key}`,
      stage: 'pitch',
      after: `takeIn:${taken.key}`,
      known: () => bench.cache.record<TrackedPitch>(key),
      run: async (signal, onProgress) => {
        const [tracked] = await trackTaken([taken], bench.cache, bench.pool, { signal, onProgress });
        return tracked!;
      },
    });
    return standing.state === 'done' ? { take, sound: taken, tracked: standing.value } : undefined;
  }
}

interface Tracked {
  readonly take: TakeProgress['take'];
  readonly sound: NonNullable<TakeProgress['taken']>;
  readonly tracked: TrackedPitch;
}

/** A take of a voice with several, or the one with which another voice sounds. */
function isCompared(session: Session, several: readonly { readonly id: string }[], { take }: TakeProgress): boolean {
  if (several.some(({ id }) => id === take.voiceId)) return true;
  const voice = session.voices.find(({ id }) => id === take.voiceId);
  return voice !== undefined && soundingTake(session, voice)?.id === take.id;
}

/** The guide's score and plan; undefined where there is none. */
function needGuideFile(bench: Bench, session: Session): GuideFile | undefined | 'waiting' {
  if (session.guide?.plan == null) return undefined;
  const { fingerprint } = session.guide.clip;
  const standing = bench.ledger.need<{ file: GuideFile | undefined }>({
    key: `guideFile:${fingerprint}`,
    stage: 'look',
    run: async () => ({ file: await keptGuideFile(bench.fullPath('.'), fingerprint) }),
  });
  if (standing.state === 'done') return standing.value.file;
  return standing.state === 'fault' ? undefined : 'waiting';
}

async function figuresOf(
  bench: Bench,
  session: Session,
  heard: readonly Tracked[],
  { file, signal }: { readonly file: GuideFile | undefined; readonly signal: AbortSignal },
): Promise<Kept<ReadonlyMap<string, Played>>> {
  const tracks = heard.map(({ take, sound, tracked }): HeardTake => {
    const { placement } = take;
    const place =
      placement === null || isUnplaced(placement)
        ? null
        : { ...clockOf(placement), uncertaintySec: placement.uncertaintySec };
    const row = pitchRow(sound, tracked, bench.cache);
    return { voice: take.voiceId, track: { id: take.id, name: take.name, tracked, row, place } };
  });
  const against = { score: file?.score, plan: file?.plan };
  const { key, value: figures } = await keptFigures(tracks, against, bench.cache, bench.pool, { signal });
  const count = new Map<string, number>();
  for (const { voiceId } of session.takes) count.set(voiceId, (count.get(voiceId) ?? 0) + 1);
  const value = new Map(
    heard.flatMap(({ take }, index) => ((count.get(take.voiceId) ?? 0) > 1 ? [[take.id, figures[index]!]] : [])),
  );
  return { key, value };
}
