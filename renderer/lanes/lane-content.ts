import type { TakeFacts } from '../../app/shell/contract/desk-view.ts';
import { anchorsOf } from '../../core/session/anchors.ts';
import type { Take, Voice } from '../../core/session/schema.ts';
import { sessionSecOf } from '../../core/signal/clock.ts';
import type { Lane, LaneWave, Stretch } from './lane-scene.ts';
import { type Place, placeOf } from './placement-time.ts';

/** Whether quiet takes are drawn taller. */
export type WaveScale = 'levelled' | 'asRecorded';

/** Loudest peaks of music stand about so far above its loudness. */
const PEAK_ABOVE_LOUDNESS_DB = 14;
const MOST_TALLNESS_DB = 24;

/** What is in a lane, wherever it lies. */
export type LaneContent = Omit<Lane, 'key' | 'kind' | 'topPx' | 'heightPx' | 'sounds' | 'takeCount' | 'takeNumber'>;

/** What is in the lane of a take; of a voice without one nothing. */
export function laneOf(voice: Voice, take: Take | null, facts: TakeFacts | null, scale: WaveScale): LaneContent {
  if (take === null) {
    return {
      voice,
      take,
      facts,
      wave: null,
      words: null,
      silence: null,
      music: null,
      clipped: [],
      clapSec: null,
      question: null,
    };
  }
  const place = placeOf(take.placement);
  const inSession = (span: Stretch): Stretch => ({
    fromSec: sessionSecOf(place, span.fromSec),
    toSec: sessionSecOf(place, span.toSec),
  });
  const clap = take.placement?.evidence.find((one) => one.kind === 'clap' && one.accepted);
  const silence = silenceOf(take, facts);
  return {
    voice,
    take,
    facts,
    wave: facts === null ? null : waveOf(take.id, take, facts, place, scale),
    words: stateInWords(facts),
    silence: silence === null ? null : { ...inSession(silence), label: silence.label },
    music: facts?.music ?? null,
    clipped: (facts?.clipped ?? []).map(inSession),
    clapSec: clap === undefined ? null : sessionSecOf(place, clap.takeSec),
    pins: anchorsOf(take.placement).map((one) => one.atSec),
    question: questionOf(take, facts),
  };
}

/** Below it a silence found by itself is a question. */
const SURE_SILENCE = 0.5;

function silenceOf(take: Take, facts: TakeFacts | null): (Stretch & { label: string }) | null {
  if (take.silence !== null) return { ...take.silence, label: 'silence, chosen by you' };
  const learnt = facts?.clean.silence ?? null;
  if (learnt === null) {
    const best = facts?.silences[0];
    return best === undefined ? null : { ...best, label: 'silence' };
  }
  const unsure = (facts?.clean.silenceConfidence ?? 1) < SURE_SILENCE;
  return { fromSec: learnt.fromSec, toSec: learnt.toSec, label: unsure ? 'silence? look here' : 'silence' };
}

function questionOf(take: Take, facts: TakeFacts | null): string | null {
  if (take.placement?.question) return take.placement.question;
  if (facts?.clean.unfit) return facts.clean.unfit;
  if (take.silence === null && (facts?.clean.silenceConfidence ?? 1) < SURE_SILENCE) {
    return 'The silence that was found may hold more than the room. Look at it, or select another one.';
  }
  return null;
}

/** What a take's state is, where no waveform can be shown; null where one can. */
export function stateInWords(facts: TakeFacts | null): string | null {
  if (facts === null) return 'Waiting to be read.';
  switch (facts.state) {
    case 'waiting':
      return 'Waiting to be read.';
    case 'reading':
      return facts.waves.before ? null : 'Being read. Its waveform comes in a moment.';
    case 'missing':
      return 'The clip is missing: its file is not where it was.';
    case 'faulty':
      return facts.fault?.message ?? 'The clip cannot be read.';
    case 'ready':
      return facts.waves.before || facts.waves.after ? null : 'Its waveform is being drawn.';
  }
}

/** A clip's sound, ready to be drawn; null while there is no waveform. */
export function waveOf(
  takeId: string,
  take: Take | null,
  facts: TakeFacts,
  place: Place,
  scale: WaveScale,
): LaneWave | null {
  if (!facts.waves.before && !facts.waves.after) return null;
  const lengthFrames = Math.round(facts.lengthSec * facts.rateHz);
  const clip =
    take === null ? `${facts.file}/${facts.lengthSec}` : take.clip.fingerprint + JSON.stringify(facts.part ?? '');
  // Told by what came of it: what is wished is known here before it is made.
  const mending = facts.mended === 'none' ? null : [facts.mended, facts.mendNotes];
  // Cleaned sound is another sound with every other setting: the choice itself tells them apart.
  const cleaning =
    take === null
      ? ''
      : JSON.stringify([take.clean, take.silence, facts.clean.silence, facts.clean.state === 'ready', mending]);
  return {
    takeId,
    place,
    rateHz: facts.rateHz,
    before: facts.waves.before ? { takeId, side: 'before', stamp: clip, lengthFrames } : null,
    after:
      facts.waves.after && (take?.clean.on !== false || mending !== null)
        ? { takeId, side: 'after', stamp: clip + cleaning, lengthFrames }
        : null,
    tallness: scale === 'asRecorded' ? 1 : tallnessOf(facts.integratedLufs),
  };
}

/** A take's music fills its lane whatever its level was: the blend levels it anyway. Linear, 1 to 16. */
export function tallnessOf(integratedLufs: number | null): number {
  if (integratedLufs === null || !Number.isFinite(integratedLufs)) return 1;
  const gainDb = Math.max(0, Math.min(MOST_TALLNESS_DB, -(integratedLufs + PEAK_ABOVE_LOUDNESS_DB)));
  return 10 ** (gainDb / 20);
}
