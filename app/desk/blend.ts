import { integratedLufs } from '../../core/loudness/gate.ts';
import { blendVoices } from '../../core/mix/blend.ts';
import { findMusicSpan } from '../../core/mix/music-span.ts';
import { spreadPlaces } from '../../core/mix/place.ts';
import { guideMarks, type KeptPlan } from '../../core/session/kept-plan.ts';
import type { Placement, Span, Voice } from '../../core/session/schema.ts';
import { type BlendFinding, stripOf } from '../../core/session/strip-of.ts';
import { sessionSecOf, takeSecOf } from '../../core/signal/clock.ts';
import type { TakeLoudness } from '../work/tasks/measure-take.ts';
import { isUnplaced } from './placement.ts';

/** Seconds between the values of a momentary curve. */
const STEP_SEC = 0.1;
/** How long after its clap a take's own sound of clapping is over, s. */
const CLAP_RINGS_SEC = 0.5;
/** The mix sounds so long before the first music and after the last, s. */
const AIR_SEC = 0.5;

/** A voice that is heard: its take's loudness, measured in the take's own time, and where that take lies. */
export interface VoiceSound {
  readonly voice: Voice;
  readonly loudness: TakeLoudness;
  readonly placement: Placement;
}

/** The music of a take. */
export interface MusicFound {
  /** Gated loudness of its music alone (the clap does not count), LUFS; -Infinity when silent. */
  readonly integratedLufs: number;
  /** Session times of its music; undefined when none was found. */
  readonly music: Span | undefined;
}

/** A voice ready for the bus. */
export interface BlendedVoice extends MusicFound {
  /** Without what was moved by hand; see stripOf. */
  readonly finding: BlendFinding;
  /** Why its gain is what it is. */
  readonly reason: string;
  /** The blend could not bring it to its level. */
  readonly isOff: boolean;
}

/** Gains and places of the voices, from the loudness of their music and their roles. plan: of the guide they were played to. */
export function blend(sounds: readonly VoiceSound[], plan: KeptPlan | null = null): BlendedVoice[] {
  const found = sounds.map(({ loudness, placement }) => findMusic(loudness, placement, plan));
  const choices = blendVoices(
    sounds.map(({ voice: { name, role } }, index) => ({
      name,
      role,
      integratedLufs: found[index]!.integratedLufs,
    })),
  );
  const unplaced = sounds.map(({ placement }) => isUnplaced(placement));
  // A lone guess would spoil the mix; where nothing is placed at all, there is nothing better than the guesses.
  const leftOut = unplaced.map((out) => out && unplaced.includes(false));
  const places = spreadPlaces(sounds.map(({ voice }) => voice.role));
  return found.map((music, index) => ({
    ...music,
    finding: { gainDb: choices[index]!.gainDb, placeDeg: places[index]!, leftOut: leftOut[index]! },
    reason: choices[index]!.reason,
    isOff: !choices[index]!.reached,
  }));
}

const foundBefore = new WeakMap<TakeLoudness, { placement: Placement; plan: KeptPlan | null; found: MusicFound }>();

/**
 * How loud a take's music is, and where it lies: where the place of the take is sure within the music of the guide's plan, if there is
 * one. Remembered, since a fader's move asks for it again and again.
 */
export function findMusic(loudness: TakeLoudness, placement: Placement, plan: KeptPlan | null): MusicFound {
  const before = foundBefore.get(loudness);
  if (before?.placement === placement && before.plan === plan) return before.found;
  const found = searchMusic(loudness, placement, plan);
  foundBefore.set(loudness, { placement, plan, found });
  return found;
}

function searchMusic(loudness: TakeLoudness, placement: Placement, plan: KeptPlan | null): MusicFound {
  const clap = placement.evidence.find((one) => one.kind === 'clap' && one.accepted);
  const afterSec = clap === undefined ? 0 : Math.max(0, clap.takeSec + CLAP_RINGS_SEC);
  const { momentaryLufs } = loudness;
  const integratedLufs = loudness.integratedLufs ?? Number.NEGATIVE_INFINITY;
  const curve = { momentaryLufs, stepSec: STEP_SEC, integratedLufs };
  const span = findMusicSpan(curve, afterSec, pieceOf(placement, plan));
  return { integratedLufs: loudnessWithin(loudness, span), music: onLine(span, placement) };
}

/** Where the guide's plan has the music, in the take's own time; undefined where that is not known. */
function pieceOf(placement: Placement, plan: KeptPlan | null): Span | undefined {
  if (plan === null || placement.question !== null || isUnplaced(placement)) return undefined;
  const { fromSec, toSec } = guideMarks(plan).music;
  return { fromSec: takeSecOf(placement, fromSec), toSec: takeSecOf(placement, toSec) };
}

/** A stretch of a take as session times; what lies before session time zero is not there. */
function onLine(span: Span | undefined, placement: Placement): Span | undefined {
  if (span === undefined) return undefined;
  const at = (takeSec: number): number => Math.max(0, sessionSecOf(placement, takeSec));
  const line = { fromSec: at(span.fromSec), toSec: at(span.toSec) };
  return line.toSec > line.fromSec ? line : undefined;
}

/** Gated loudness of a stretch (BS.1770 gates), from the 400 ms blocks of the momentary curve. */
function loudnessWithin(loudness: TakeLoudness, span: Span | undefined): number {
  const whole = loudness.integratedLufs ?? Number.NEGATIVE_INFINITY;
  if (span === undefined) return whole;
  const from = Math.floor(span.fromSec / STEP_SEC) + 4;
  const to = Math.ceil(span.toSec / STEP_SEC);
  const powers = loudness.momentaryLufs.slice(from, to).map((lufs) => 10 ** ((lufs + 0.691) / 10));
  return powers.length === 0 ? whole : integratedLufs(Float64Array.from(powers));
}

/** The stretch the mix sounds in: all voices' music with a little air before and after; undefined to leave it whole. */
export function mixSpan(
  voices: readonly Voice[],
  blended: readonly BlendedVoice[],
  lengthSec: number,
): Span | undefined {
  const spans = blended.flatMap(({ music, finding }, index) =>
    music === undefined || stripOf(voices[index]!, finding).muted ? [] : [music],
  );
  if (spans.length === 0) return undefined;
  const fromSec = Math.max(0, Math.min(...spans.map((span) => span.fromSec)) - AIR_SEC);
  const toSec = Math.min(lengthSec, Math.max(...spans.map((span) => span.toSec)) + AIR_SEC);
  return toSec > fromSec ? { fromSec, toSec } : undefined;
}
