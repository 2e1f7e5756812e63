import { join } from 'node:path';
import type { Session } from '../../../core/session/schema.ts';
import type { BlendView } from '../../shell/contract/desk-view.ts';
import type { LaidTake } from '../../work/laid-sound.ts';
import { partOf } from '../../work/part-path.ts';
import type { MixdownResult } from '../../work/tasks/mixdown.ts';
import type { BlendedVoice } from '../blend.ts';
import { Cache } from '../cache.ts';
import { soundOfTake } from '../composed-voice.ts';
import { blendParts, type HeardPart, planOf } from '../mix-plan.ts';
import { mixRequest, type RenderPart, type RenderPlan } from '../render-mix.ts';
import { STEP_VERSION } from '../steps.ts';
import { type Bench, use } from './bench.ts';
import type { Standing } from './ledger.ts';
import type { TakeProgress } from './take-state.ts';
import { needVoices, type VoiceWork } from './voice-work.ts';

/** How long the blend must rest before its loudness is measured, ms. */
const CALM_MS = 350;

/** The mix as it would be rendered now, so far as it is known. */
export interface MixState {
  readonly view: BlendView;
  /** The voices whose takes are ready. */
  readonly parts: readonly RenderPart[];
  /** On voices that cannot be heard. */
  readonly notes: readonly string[];
  /** Nothing is waited for any more. */
  readonly settled: boolean;
  /** Names everything that shapes the mix's sound. */
  readonly key: string;
  readonly fault: unknown;
}

/** Blends the voices whose takes are ready and asks for the gain at the end; undefined while there is none. */
export function needMix(
  bench: Bench,
  session: Session,
  takes: readonly TakeProgress[],
  before: MixState | undefined,
): MixState | undefined {
  const voices = needVoices(bench, session, takes);
  const ready = voices.flatMap((work) => heardPart(work, before) ?? []);
  if (ready.length === 0) return undefined;
  const waiting = voices.some((work) => work.waiting);
  const joinFault = voices.find((work) => work.fault !== null)?.fault ?? null;
  const parts = blendParts(ready, session);
  const plan = planOf(session, parts, { wave: 'pcm24', copy: null, stems: false });
  const key = mixKey(plan, parts);
  const master = waiting ? undefined : needMaster(bench, plan, key);
  const done = master?.state === 'done' ? master.value : undefined;
  const older = before?.view.master ?? null;
  return {
    parts,
    notes: voices.flatMap(({ note }) => note ?? []),
    settled: !waiting && done !== undefined,
    key,
    fault: master?.state === 'fault' ? master.fault : joinFault,
    view: {
      voices: parts.map(viewOf),
      span: plan.span,
      lengthFrames: plan.lengthFrames,
      master: done === undefined ? older : { gainDb: done.masterGainDb, ceilingDbtp: done.masterCeilingDbtp },
      measuring: done === undefined && master?.state !== 'fault' && joinFault === null,
    },
  };
}

/** While joins are being found a voice goes on with what it was made of before, or with its main take. */
function heardPart({ voice, main, composed }: VoiceWork, before: MixState | undefined): HeardPart | undefined {
  if (main === undefined) return undefined;
  const older = before?.parts.find((part) => part.voice.id === voice.id)?.composed;
  const isThere = older?.parts.every(({ take }) => take.voiceId === voice.id) === true;
  return { ...main, voice, composed: composed === undefined ? (isThere ? older : null) : composed };
}

function viewOf({ voice, take, blended, composed }: RenderPart): BlendView['voices'][number] {
  const { finding, reason, isOff }: BlendedVoice = blended;
  const joins = (composed?.matches ?? []).map((match, index) => ({
    atSec: composed!.passages[index + 1]!.fromSec,
    leftTakeId: composed!.passages[index]!.takeId,
    rightTakeId: composed!.passages[index + 1]!.takeId,
    kind: match.kind,
    fadeSec: match.fadeSec,
    stepDb: composed!.joins[index]!.stepDb,
    tiltDb: match.tiltDb,
  }));
  return { ...finding, voiceId: voice.id, takeId: take.id, reason, isOff, joins };
}

/** Names everything that shapes the sound of a mix: sounds by content, not by where they lie. */
function mixKey(plan: RenderPlan, parts: readonly RenderPart[]): string {
  const { voices, ...rest } = mixRequest(plan, '');
  const sounds = parts.map((part) =>
    part.composed == null ? soundOfTake(part).key : part.composed.parts.map((one) => soundOfTake(one).key),
  );
  const placeOf = (sound: LaidTake): unknown[] => [sound.rateHz, sound.place];
  const places = voices.map(({ sound, strip }) =>
    'parts' in sound
      ? [sound.parts.map((one) => [...placeOf(one.sound), one.gainDb]), sound.joins, strip]
      : [...placeOf(sound), strip],
  );
  return Cache.keyOf('master', STEP_VERSION.master, sounds, places, rest);
}

function needMaster(bench: Bench, plan: RenderPlan, key: string): Standing<MixdownResult> {
  use(bench, key);
  return bench.ledger.need<MixdownResult>({
    key: `master:${key}`,
    stage: 'master',
    calmMs: CALM_MS,
    known: () => bench.cache.record<MixdownResult>(key),
    run: async (signal, onProgress) => {
      // A name of its own, since a search that was stopped may still be at the end of its last block.
      const busPath = partOf(join(bench.cache.folder, key));
      const master = await bench.pool.run('findMaster', mixRequest(plan, busPath), { signal, onProgress });
      bench.cache.keep(key, master);
      return master;
    },
  });
}
