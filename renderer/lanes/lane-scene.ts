import type { DeskView, TakeFacts } from '../../app/shell/contract/desk-view.ts';
import { soundingTake } from '../../core/session/passages.ts';
import type { Take, Voice } from '../../core/session/schema.ts';
import { sessionSecOf } from '../../core/signal/clock.ts';
import { SESSION_RATE_HZ } from '../../core/signal/time.ts';
import { type GuideShade, guideShades } from './bar-map.ts';
import { laneOf, stateInWords, type WaveScale, waveOf } from './lane-content.ts';
import { isHeard, type LanePassages, takePassages, voicePassages } from './lane-parts.ts';
import { type Place, placeOf } from './placement-time.ts';
import type { Bar } from './ruler.ts';
import type { Extent } from './time-view.ts';
import type { WaveSource } from './wave-store.ts';

/** Session time, s. */
export interface Stretch {
  readonly fromSec: number;
  readonly toSec: number;
}

/** The sound of a lane, ready to be drawn. */
export interface LaneWave {
  readonly takeId: string;
  readonly place: Place;
  readonly rateHz: number;
  readonly before: WaveSource | null;
  readonly after: WaveSource | null;
  /** By how much it is drawn taller than full scale, so that quiet clips can be seen; linear. */
  readonly tallness: number;
}

/** One lane: its place in the scrolled column (CSS pixels), its sound and its marks (session time). */
export interface Lane {
  readonly key: string;
  readonly kind: 'guide' | 'voice' | 'take';
  readonly voice: Voice | null;
  readonly take: Take | null;
  readonly facts: TakeFacts | null;
  /** Its take is the one its voice sounds with. */
  readonly sounds: boolean;
  /** Takes of the voice, and which of them this is (from 1; 0 when it shows none). */
  readonly takeCount: number;
  readonly takeNumber: number;
  readonly topPx: number;
  readonly heightPx: number;
  readonly wave: LaneWave | null;
  /** Why there is no waveform, in words; null when there is one. */
  readonly words: string | null;
  readonly silence: (Stretch & { readonly label: string }) | null;
  readonly music: Stretch | null;
  readonly clipped: readonly Stretch[];
  readonly clapSec: number | null;
  /** Moments that the user pinned to their place. */
  readonly pins?: readonly number[];
  /** Cues and count-in; on the guide line only. */
  readonly shades?: readonly GuideShade[];
  /** What is to be looked at, in words; null when nothing. */
  readonly question: string | null;
  /** Of a voice made of passages: which take sounds where. */
  readonly passages?: LanePassages | null;
}

export interface LaneHeights {
  readonly voicePx: number;
  readonly takePx: number;
}

export interface Scene {
  readonly guide: Lane;
  readonly lanes: readonly Lane[];
  readonly heightPx: number;
  readonly extent: Extent;
  /** Outside of it nothing sounds in the mix; null: everything does. */
  readonly mixSpan: Stretch | null;
  readonly bars: readonly Bar[];
  /** Where the last bar ends; null without bars. */
  readonly barsEndSec: number | null;
}

/** The lanes of a session from top to bottom, with everything that is drawn in them. */
export function sceneOf(
  view: DeskView,
  unfolded: readonly string[],
  heights: LaneHeights,
  scale: WaveScale,
  bars: readonly Bar[],
): Scene {
  const { session } = view;
  const plan = session.guide?.plan ?? null;
  const lanes: Lane[] = [];
  let topPx = 0;
  const push = (lane: Omit<Lane, 'topPx'>): void => {
    lanes.push({ ...lane, topPx });
    topPx += lane.heightPx;
  };
  for (const voice of session.voices) {
    const own = session.takes.filter((take) => take.voiceId === voice.id);
    const sounding = soundingTake(session, voice);
    const facts = (take: Take): TakeFacts | null => view.takes[take.id] ?? null;
    const waveIn = (take: Take): LaneWave | null => laneOf(voice, take, facts(take), scale).wave;
    push({
      ...laneOf(voice, sounding ?? null, sounding === undefined ? null : facts(sounding), scale),
      ...(sounding === undefined ? { words: wordsWithoutTake(own.length) } : {}),
      key: voice.id,
      kind: 'voice',
      sounds: true,
      takeCount: own.length,
      takeNumber: sounding === undefined ? 0 : own.indexOf(sounding) + 1,
      heightPx: heights.voicePx,
      passages: voicePassages(voice, own, waveIn),
    });
    if (!unfolded.includes(voice.id)) continue;
    own.forEach((take, n) => {
      push({
        ...laneOf(voice, take, facts(take), scale),
        key: `${voice.id}/${take.id}`,
        kind: 'take',
        sounds: isHeard(session, voice, take),
        takeCount: own.length,
        takeNumber: n + 1,
        heightPx: heights.takePx,
        passages: takePassages(voice, take, waveIn(take)),
      });
    });
  }
  return {
    guide: guideLane(view, scale),
    lanes,
    heightPx: topPx,
    extent: extentOf(view),
    mixSpan: view.blend?.span ?? null,
    bars,
    barsEndSec: bars.length === 0 || plan === null ? null : plan.musicEndFrame / SESSION_RATE_HZ,
  };
}

function wordsWithoutTake(count: number): string {
  return count === 0 ? 'No take yet. Add clips in the step "Takes".' : `${count} takes, none chosen yet.`;
}

function guideLane(view: DeskView, scale: WaveScale): Lane {
  const facts = view.guide;
  const wave = facts === null ? null : waveOf('guide', null, facts, placeOf(null), scale);
  const plan = view.session.guide?.plan ?? null;
  return {
    key: 'guide',
    kind: 'guide',
    voice: null,
    take: null,
    facts,
    sounds: true,
    takeCount: 0,
    takeNumber: 0,
    topPx: 0,
    heightPx: 0,
    wave,
    words: view.session.guide === null ? null : stateInWords(facts),
    silence: plan === null ? null : { ...secondsOf(plan.silence), label: 'silence' },
    music: null,
    clipped: [],
    clapSec: null,
    ...(plan === null ? {} : { shades: guideShades(plan) }),
    question: null,
  };
}

function secondsOf({ fromFrame, toFrame }: { readonly fromFrame: number; readonly toFrame: number }): Stretch {
  return { fromSec: fromFrame / SESSION_RATE_HZ, toSec: toFrame / SESSION_RATE_HZ };
}

/** From the first take's beginning to the last one's end, with a hundredth of air, at least 10 s. */
function extentOf(view: DeskView): Extent {
  let fromSec = 0;
  let toSec = Math.max(10, (view.blend?.lengthFrames ?? 0) / SESSION_RATE_HZ, view.guide?.lengthSec ?? 0);
  for (const take of view.session.takes) {
    const place = placeOf(take.placement);
    fromSec = Math.min(fromSec, place.offsetSec);
    toSec = Math.max(toSec, sessionSecOf(place, view.takes[take.id]?.lengthSec ?? 0));
  }
  const air = 0.01 * (toSec - fromSec);
  return { fromFrame: (fromSec - air) * SESSION_RATE_HZ, toFrame: (toSec + air) * SESSION_RATE_HZ };
}

/** The lane at a height of the scrolled column, CSS pixels. */
export function laneAt(lanes: readonly Lane[], yPx: number): Lane | undefined {
  return lanes.find((lane) => yPx >= lane.topPx && yPx < lane.topPx + lane.heightPx);
}

/** What lies at a session time in a lane and can be selected whole: its silence, a clipped spot, or its music. */
export function markAt(lane: Lane, sec: number): Stretch | null {
  const holds = (span: Stretch | null): span is Stretch => span !== null && sec >= span.fromSec && sec < span.toSec;
  if (holds(lane.silence)) return { fromSec: lane.silence.fromSec, toSec: lane.silence.toSec };
  const clip = lane.clipped.find(holds);
  if (clip !== undefined) return clip;
  return holds(lane.music) ? lane.music : null;
}

/** The lane whose waveform is shown behind one that is being moved: the guide's, else that of the nearest other voice that sounds. */
export function neighbourOf(scene: Scene, takeId: string): Lane | null {
  if (scene.guide.wave !== null) return scene.guide;
  const own = scene.lanes.find((lane) => lane.take?.id === takeId)?.voice?.id;
  const voices = scene.lanes.filter((lane) => lane.kind === 'voice');
  const at = voices.findIndex((lane) => lane.voice?.id === own);
  for (let away = 1; away < voices.length; away++) {
    for (const n of [at - away, at + away]) {
      const lane = voices[n];
      if (lane !== undefined && lane.wave !== null && lane.voice?.id !== own) return lane;
    }
  }
  return null;
}
