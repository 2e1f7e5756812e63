import type { SpanView } from '../../app/shell/contract/desk-view.ts';
import { joinsOf } from '../../core/session/passages.ts';
import { SESSION_RATE_HZ } from '../../core/signal/time.ts';
import { useDesk } from '../desk/desk-store.ts';
import type { MenuItem } from '../lanes/lane-menu.tsx';
import type { Lane } from '../lanes/lane-scene.ts';
import { playbackFrame } from '../lanes/the-player.ts';
import { hearJoin, joinAlong, joinNear, letSoundHere, removeJoin } from './passage-edits.ts';

/** A join is spoken of from the playback line within this, s. */
const NEAR_SEC = 30;

/** What the menu of a lane offers for passages: to use a take in the selected stretch, and the join nearest to the line. */
export function passageItems(lane: Lane, stretch: SpanView | null): MenuItem[] {
  const { voice, take } = lane;
  if (voice === null || lane.takeCount < 2) return [];
  if (lane.kind === 'take' && take !== null) {
    const label = 'Use this take here';
    if (stretch === null) return [{ label, run: () => {}, not: 'Select a stretch of it first.' }];
    return [{ label, run: () => void letSoundHere(voice.id, take.id, stretch) }];
  }
  const items: MenuItem[] = [];
  if (stretch !== null) {
    const others = useDesk.getState().view?.session.takes.filter((one) => one.voiceId === voice.id) ?? [];
    for (const other of others) {
      items.push({ label: `Use ${other.name} here`, run: () => void letSoundHere(voice.id, other.id, stretch) });
    }
  }
  return [...items, ...joinItems(lane)];
}

function joinItems({ voice }: Lane): MenuItem[] {
  const lineSec = playbackFrame() / SESSION_RATE_HZ;
  const near = joinsOf(voice?.passages ?? null)
    .map((join, index) => ({ ...join, index, farSec: Math.abs(join.atSec - lineSec) }))
    .sort((one, other) => one.farSec - other.farSec)[0];
  if (voice === null || near === undefined || near.farSec > NEAR_SEC) return [];
  const { index, atSec } = near;
  return [
    { label: 'Hear the nearest join', run: () => hearJoin(atSec) },
    { label: 'Move the nearest join to the playback line', run: () => void joinNear(voice.id, index, lineSec) },
    { label: 'Move the nearest join earlier', run: () => void joinAlong(voice.id, index, -1) },
    { label: 'Move the nearest join later', run: () => void joinAlong(voice.id, index, 1) },
    { label: 'Remove the nearest join', run: () => removeJoin(voice.id, index) },
  ];
}
