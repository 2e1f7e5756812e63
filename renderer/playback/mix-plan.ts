import type { DeskView } from '../../app/shell/contract/desk-view.ts';
import type { MixSpan } from '../../core/mix/span-fade.ts';
import { heardTakes, soundingTake } from '../../core/session/passages.ts';
import type { Take, Voice } from '../../core/session/schema.ts';
import { type BlendFinding, stripOf } from '../../core/session/strip-of.ts';
import { clockOf } from '../../core/signal/clock.ts';
import { SESSION_RATE_HZ, secondsToFrames } from '../../core/signal/time.ts';
import type { SoundSettings, StreamVoice } from './messages.ts';
import type { PlaybackState } from './playback-state.ts';

/** What the player needs of the playback state to know what should sound. */
export interface Wish extends Pick<PlaybackState, 'alone' | 'audition' | 'loop'> {
  /** A take that may be auditioned next: where it sounds, it is streamed before and after its cleaning all along. */
  readonly inHand: string | null;
}

/** The sound that a session and a wish ask for: what to fetch, and how it sounds. */
export interface MixPlan {
  /** Sources as the desk's `stretch` route names them: "ID:before", "ID:cleaned" or "ID:after". */
  readonly sources: readonly string[];
  readonly voices: readonly StreamVoice[];
  readonly span: MixSpan | null;
  readonly ceilingDbtp: number;
  readonly endFrame: number;
  readonly settings: SoundSettings;
  /** Two plans with one key can go on with the same stream; else new sound has to come. */
  readonly key: string;
}

const UNMEASURED: BlendFinding = { gainDb: 0, placeDeg: 0, leftOut: false };

interface Part {
  readonly voice: Voice;
  readonly take: Take;
  readonly isAudition: boolean;
  /** It sounds with passages, and the desk has put them together. */
  readonly joined: boolean;
}

/** Makes the plan. `laid` counts how often a take was laid anew, so that a take that moved is fetched again. */
export function planMix(view: DeskView, wish: Wish, laid: (takeId: string) => number): MixPlan {
  const { session } = view;
  const parts = session.voices.flatMap((voice) => partsOf(view, voice, wish));
  const sources: string[] = [];
  const voices = parts.map((part): StreamVoice => {
    const both = !part.joined && (part.isAudition || part.take.id === wish.inHand) && isChanged(view, part.take);
    const own = both ? bothSources(part, wish) : [oneSource(view, part)];
    const first = sources.length;
    sources.push(...own);
    return { id: part.voice.id, sources: both ? [first, first + 1] : [first] };
  });
  const span = view.blend?.span ?? null;
  const ceilingDbtp = view.blend?.master?.ceilingDbtp ?? session.mix.ceilingDbtp;
  const endFrame = view.blend?.lengthFrames ?? lastFrame(view);
  const key = JSON.stringify([
    voices,
    parts.map(({ take }) => [
      ...[take.id, laid(take.id), take.placement && clockOf(take.placement), take.mend, take.part],
      ...cleaningOf(view, take),
    ]),
    parts.map((part) => joiningOf(view, part, laid)),
    sources,
    span,
    ceilingDbtp,
    endFrame,
    wish.loop,
  ]);
  return { sources, voices, span, ceilingDbtp, endFrame, settings: settingsOf(view, wish, parts), key };
}

/** A voice's part in the sound: its sounding take, or the take that is auditioned in its place. */
function partsOf(view: DeskView, voice: Voice, wish: Wish): Part[] {
  const auditioned = view.session.takes.find((take) => take.id === wish.audition?.takeId && take.voiceId === voice.id);
  const take = auditioned ?? soundingTake(view.session, voice);
  if (take === undefined || view.takes[take.id]?.playable !== true) return [];
  if (auditioned === undefined && findingOf(view, voice).leftOut) return [];
  const joined = auditioned === undefined && isJoined(view, voice);
  return [{ voice, take, isAudition: auditioned !== undefined, joined }];
}

/** Until the joins are found, the voice sounds with its main take. */
function isJoined(view: DeskView, voice: Voice): boolean {
  const found = view.blend?.voices.find((one) => one.voiceId === voice.id)?.joins ?? [];
  return voice.passages !== null && found.length > 0;
}

/** What tells one composing of a voice from another. */
function joiningOf(view: DeskView, { voice, joined }: Part, laid: (takeId: string) => number): readonly unknown[] {
  if (!joined) return [];
  const takes = heardTakes(view.session, voice);
  return [
    view.blend?.voices.find((one) => one.voiceId === voice.id)?.joins,
    takes.map((take) => [
      ...[take.id, laid(take.id), take.placement && clockOf(take.placement), take.mend, take.part],
      ...cleaningOf(view, take),
    ]),
  ];
}

function settingsOf(view: DeskView, wish: Wish, parts: readonly Part[]): SoundSettings {
  const onlyIt = wish.audition?.onlyIt === true && parts.some((part) => part.isAudition);
  const alone = wish.alone.filter((id) => parts.some((part) => part.voice.id === id));
  const takenAway = wish.audition?.listen === 'takenAway';
  const voices = parts.map(({ voice, take, isAudition }) => {
    const strip = stripOf(voice, findingOf(view, voice));
    // Nothing was taken away from a take that was not cleaned.
    const isNothing = isAudition && takenAway && !isCleaned(view, take);
    const heard = onlyIt ? isAudition : alone.length === 0 || alone.includes(voice.id);
    const muted = onlyIt && isAudition ? false : strip.muted;
    return { id: voice.id, strip: { ...strip, muted }, heard: heard && !isNothing };
  });
  return {
    voices,
    listen: wish.audition?.listen ?? 'after',
    spanOpen: onlyIt || alone.length > 0 || reachesOut(view.blend?.span ?? null, wish.loop),
    masterGainDb: view.blend?.master?.gainDb ?? 0,
  };
}

/** Whoever repeats a stretch outside the span of the mix wants to hear it. */
function reachesOut(span: MixSpan | null, loop: Wish['loop']): boolean {
  if (span === null || loop === null) return false;
  return (
    loop.fromFrame < secondsToFrames(span.fromSec, SESSION_RATE_HZ) ||
    loop.toFrame > secondsToFrames(span.toSec, SESSION_RATE_HZ)
  );
}

function isCleaned(view: DeskView, take: Take): boolean {
  return take.clean.on && view.takes[take.id]?.clean.state === 'ready';
}

/** It goes into the mix otherwise than it was recorded; while it is cleaned or mended anew, as it did before. */
function isChanged(view: DeskView, take: Take): boolean {
  const { clean, mended = 'none' } = view.takes[take.id] ?? {};
  const isAtWork = clean?.state === 'waiting' || clean?.state === 'working';
  return isCleaned(view, take) || mended !== 'none' || (take.clean.on && isAtWork);
}

/** What is heard before, and after; mending takes nothing away, it moves, so what cleaning took away is heard without it. */
function bothSources({ take, isAudition }: Part, { audition }: Wish): [string, string] {
  const unmended = isAudition && audition?.unmended === true;
  const takenAway = isAudition && audition?.listen === 'takenAway' && take.mend !== null;
  return [`${take.id}:${unmended ? 'cleaned' : 'before'}`, `${take.id}:${takenAway ? 'cleaned' : 'after'}`];
}

/** What tells one cleaning of a take from another. */
function cleaningOf(view: DeskView, take: Take): readonly unknown[] {
  const facts = view.takes[take.id]?.clean;
  if (facts === undefined || !isCleaned(view, take)) return [view.takes[take.id]?.mended];
  const { silence, noise, restoredSamples, backedOff, lines } = facts;
  return [
    ...[take.clean, silence?.fromSec, silence?.toSec, restoredSamples, backedOff, lines.length],
    ...[noise?.levelDbfs, noise?.reducedDb, noise?.character, noise?.rule, view.takes[take.id]?.mended],
  ];
}

function oneSource(view: DeskView, { voice, take, joined }: Part): string {
  if (joined) return `voice:${voice.id}:after`;
  return `${take.id}:${isChanged(view, take) ? 'after' : 'before'}`;
}

/** The blend's finding; where it has none yet the voice goes in as it is, in the middle. */
function findingOf(view: DeskView, voice: Voice): BlendFinding {
  return view.blend?.voices.find((found) => found.voiceId === voice.id) ?? UNMEASURED;
}

function lastFrame(view: DeskView): number {
  const ends = view.session.takes.map(
    (take) => (take.placement?.offsetSec ?? 0) + (view.takes[take.id]?.lengthSec ?? 0),
  );
  return secondsToFrames(Math.max(0, ...ends), SESSION_RATE_HZ);
}
