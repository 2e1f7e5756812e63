import { mendedNotes } from '../../core/pitch/mended-notes.ts';
import { heardTakes, soundingPassages } from '../../core/session/passages.ts';
import type { Mend, Session, Take, Voice } from '../../core/session/schema.ts';
import type { TrackedVoice } from '../../core/session/tune-report.ts';
import type { RunOptions, WorkPool } from '../work/pool.ts';
import type { Cache } from './cache.ts';
import { composedPitch, type PlacedPitch } from './composed-pitch.ts';
import type { KeyedSound } from './measure-taken.ts';
import { isUnplaced } from './placement.ts';
import { pitchRow, trackTaken } from './track-taken.ts';

/** A voice with the takes that it sounds with, as they were recorded, as far as they were read. */
export interface VoiceAtHand {
  readonly voice: Voice;
  readonly takes: readonly { readonly take: Take; readonly sound: KeyedSound }[];
  readonly lost: readonly Take[];
}

/** The voices of a session. soundOf: what was read of a take, by its id; undefined where it cannot be. */
export function voicesAtHand(session: Session, soundOf: (takeId: string) => KeyedSound | undefined): VoiceAtHand[] {
  return session.voices.map((voice) => {
    const all = heardTakes(session, voice).map((take) => ({ take, sound: soundOf(take.id) }));
    return {
      voice,
      takes: all.flatMap(({ take, sound }) => (sound === undefined ? [] : [{ take, sound }])),
      lost: all.filter(({ sound }) => sound === undefined).map(({ take }) => take),
    };
  });
}

/** Follows the pitch of voices, with what is mended reckoned in; those of which nothing was read are left out. */
export async function trackedVoices(
  voices: readonly VoiceAtHand[],
  cache: Cache,
  pool: WorkPool,
  options: RunOptions,
): Promise<TrackedVoice[]> {
  // Two takes of one clip are one sound.
  const sounds = [...new Map(voices.flatMap(({ takes }) => takes.map(({ sound }) => [sound.key, sound]))).values()];
  const tracked = await trackTaken(sounds, cache, pool, options);
  const pitches = new Map(
    sounds.map((sound, index) => [
      sound.key,
      { tracked: tracked[index]!, row: pitchRow(sound, tracked[index]!, cache) },
    ]),
  );
  return voices.flatMap((one) => trackedVoice(one, pitches) ?? []);
}

/** What is mended in the takes that are heard, by their ids. */
export function mendsOf(voices: readonly VoiceAtHand[]): Record<string, Mend> {
  const takes = voices.flatMap((voice) => voice.takes.map(({ take }) => take));
  return Object.fromEntries(takes.flatMap(({ id, mend }) => (mend === null ? [] : [[id, mend]])));
}

/** One voice as the report takes it; undefined where nothing of it was read. */
function trackedVoice(
  { voice, takes }: VoiceAtHand,
  pitches: ReadonlyMap<string, Pick<PlacedPitch, 'tracked' | 'row'>>,
): TrackedVoice | undefined {
  const { id, name } = voice;
  const all = takes.map(({ take, sound }) => {
    const { tracked, row } = pitches.get(sound.key)!;
    return {
      takeId: take.id,
      placement: take.placement === null || isUnplaced(take.placement) ? null : take.placement,
      ...mendedNotes(tracked, row, take.mend),
    };
  });
  const passages = soundingPassages(voice);
  const placed = all.filter((one) => one.placement !== null);
  if (passages === null || placed.length === 0) {
    const only = all[0];
    return only === undefined ? undefined : { id, name, tracked: only.tracked, row: only.row, place: only.placement };
  }
  const parts = placed.map(({ takeId, tracked, row, placement }) => ({ takeId, tracked, row, place: placement! }));
  const uncertaintySec = Math.max(...parts.map(({ place }) => place.uncertaintySec));
  return { id, name, ...composedPitch(parts, passages), place: { offsetSec: 0, driftPpm: 0, uncertaintySec } };
}
