import { integratedLufs } from '../../core/loudness/gate.ts';
import { blendVoices } from '../../core/mix/blend.ts';
import { findMusicSpan } from '../../core/mix/music-span.ts';
import { spreadPlaces } from '../../core/mix/place.ts';
import { LOW_CUT_HZ, type StripSettings } from '../../core/mix/strip.ts';
import type { Placement, Span, Voice } from '../../core/session/schema.ts';
import type { StemResult } from '../work/tasks/stem.ts';
import { isUnplaced } from './placement.ts';

/** Seconds between the values of a momentary curve. */
const STEP_SEC = 0.1;
/** How long after its clap a take's own sound of clapping is over, s. */
const CLAP_RINGS_SEC = 0.5;

/** A voice ready for the bus. */
export interface BlendedVoice {
  readonly strip: StripSettings;
  /** Gated loudness of its music alone (the clap does not count), LUFS. */
  readonly integratedLufs: number;
  /** Session times of its music; undefined when none was found. */
  readonly music: Span | undefined;
  /** Why its gain is what it is. */
  readonly reason: string;
  /** The blend could not bring it to its level. */
  readonly isOff: boolean;
  /** Nobody knows where it lies, so the mix does without it. */
  readonly leftOut: boolean;
}

/** Gains and places of the voices, from their stems' loudness, their roles, and what was set by hand. */
export function blend(
  voices: readonly Voice[],
  stems: readonly StemResult[],
  placements: readonly Placement[],
): BlendedVoice[] {
  const spans = stems.map((stem, index) => musicOf(stem, placements[index]!));
  const levels = stems.map((stem, index) => loudnessWithin(stem, spans[index]));
  const choices = blendVoices(
    voices.map((voice, index) => ({ name: voice.name, role: voice.role, integratedLufs: levels[index]! })),
  );
  const unplaced = placements.map(isUnplaced);
  // A lone guess would spoil the mix; where nothing is placed at all, there is nothing better than the guesses.
  const leftOut = unplaced.map((out) => out && unplaced.includes(false));
  const places = spreadPlaces(voices.map((voice) => voice.role));
  return voices.map((voice, index) => ({
    strip: {
      gainDb: choices[index]!.gainDb + voice.trimDb,
      placeDeg: voice.placeDeg ?? places[index]!,
      lowCutHz: LOW_CUT_HZ[voice.role],
      muted: voice.muted || leftOut[index]!,
    },
    integratedLufs: levels[index]!,
    music: spans[index],
    reason: choices[index]!.reason,
    isOff: !choices[index]!.reached,
    leftOut: leftOut[index]!,
  }));
}

function musicOf(stem: StemResult, placement: Placement): Span | undefined {
  const clap = placement.evidence.find((one) => one.kind === 'clap' && one.accepted);
  const afterSec = clap === undefined ? 0 : Math.max(0, clap.atSec + CLAP_RINGS_SEC);
  return findMusicSpan(
    { momentaryLufs: stem.momentaryLufs, stepSec: STEP_SEC, integratedLufs: stem.integratedLufs },
    afterSec,
  );
}

/** Gated loudness of a stretch (BS.1770 gates), from the 400 ms blocks of the momentary curve. */
function loudnessWithin(stem: StemResult, span: Span | undefined): number {
  if (span === undefined) return stem.integratedLufs;
  const from = Math.floor(span.fromSec / STEP_SEC) + 4;
  const to = Math.ceil(span.toSec / STEP_SEC);
  const powers = stem.momentaryLufs.slice(from, to).map((lufs) => 10 ** ((lufs + 0.691) / 10));
  return powers.length === 0 ? stem.integratedLufs : integratedLufs(Float64Array.from(powers));
}

/** The stretch the mix sounds in: all voices' music with a little air before and after; undefined to leave it whole. */
export function mixSpan(voices: readonly BlendedVoice[], lengthSec: number): Span | undefined {
  const spans = voices.flatMap((voice) => (voice.music === undefined || voice.strip.muted ? [] : [voice.music]));
  if (spans.length === 0) return undefined;
  const fromSec = Math.max(0, Math.min(...spans.map((span) => span.fromSec)) - 0.5);
  const toSec = Math.min(lengthSec, Math.max(...spans.map((span) => span.toSec)) + 0.5);
  return { fromSec, toSec };
}
