import { useMemo } from 'react';
import type { Session } from '../../core/session/schema.ts';
import { useBench } from '../desk/bench-store.ts';
import { useView } from '../desk/desk-store.ts';
import { barsOf } from './bar-map.ts';
import { heightsFor, type LaneCount } from './lane-heights.ts';
import { type Scene, sceneOf } from './lane-scene.ts';
import { useLanesPrefs } from './lanes-prefs.ts';

/** The scene of the session at hand, for a room of `roomPx` in height (CSS pixels); the same one until something in it changes. */
export function useScene(roomPx: number): Scene {
  const view = useView();
  const unfolded = useBench((state) => state.unfolded);
  const { size, scale } = useLanesPrefs();
  const { session, takes, guide, blend } = view;
  const plan = session.guide?.plan ?? null;
  const bars = useMemo(() => barsOf(plan), [plan]);
  // Jobs, steps and meters change many times a second: only what lanes show makes a new scene.
  // biome-ignore lint/correctness/useExhaustiveDependencies: the parts of `view` that sceneOf reads are listed.
  return useMemo(
    () => sceneOf(view, unfolded, heightsFor(size, countOf(session, unfolded), roomPx), scale, bars),
    [session, takes, guide, blend?.span, blend?.lengthFrames, unfolded, size, roomPx, scale, bars],
  );
}

function countOf(session: Session, unfolded: readonly string[]): LaneCount {
  const takes = session.takes.filter((take) => unfolded.includes(take.voiceId)).length;
  return { voices: session.voices.length, takes };
}
