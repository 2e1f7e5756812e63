import type { SpanView } from '../../app/shell/contract/desk-view.ts';
import { partEdit } from '../../core/session/split-take.ts';
import { LEAST_PART_SEC, stretchOfClip } from '../../core/session/take-part.ts';
import { takeSecOf } from '../../core/signal/clock.ts';
import { SESSION_RATE_HZ } from '../../core/signal/time.ts';
import { foldTakes, useBench } from '../desk/bench-store.ts';
import { edit, useDesk } from '../desk/desk-store.ts';
import { passageItems } from '../passages/passage-items.ts';
import type { MenuItem } from './lane-menu.tsx';
import { bringToHand } from './lane-pointer.ts';
import type { Lane } from './lane-scene.ts';
import type { LanesStage } from './lanes-stage.ts';
import { placeOf } from './placement-time.ts';
import { loopStretch, playStretch } from './play-stretch.ts';
import { showing } from './time-view.ts';

/** What the menu of a lane offers: for the stretch selected in it, and for its take. */
export function laneActions(stage: LanesStage, lane: Lane, unfolded: boolean): MenuItem[] {
  const { stretch } = useBench.getState();
  const items: MenuItem[] = [];
  const { voice, take } = lane;
  const here = stretch !== null && stretch.takeId === (take?.id ?? null) ? stretch : null;
  items.push(...passageItems(lane, here));
  if (take !== null) {
    items.push(
      here === null
        ? {
            label: 'Learn the noise here',
            run: () => {},
            not: 'Select a stretch first: drag, or Shift and the arrow keys.',
          }
        : learnItem(lane, here),
    );
  }
  if (here !== null) {
    items.push({ label: 'Play this stretch', run: () => playStretch(here) });
    items.push({ label: 'Repeat this stretch', run: () => loopStretch(here) });
    items.push({
      label: 'Zoom to this stretch',
      run: () => {
        const scene = stage.getScene();
        if (scene === undefined) return;
        const view = stage.getView();
        stage.setView(showing(view, scene.extent, here.fromSec * SESSION_RATE_HZ, here.toSec * SESSION_RATE_HZ));
      },
    });
    items.push({ label: 'Clear the selection', run: () => useBench.setState({ stretch: null }) });
  }
  if (take !== null && here !== null) items.push(partItem(lane, here));
  if (take !== null && take.silence !== null) {
    items.push({
      label: 'Let the silence be found again',
      run: () => edit({ kind: 'setSilence', takeId: take.id, silence: null }),
    });
  }
  if (voice !== null && take !== null && lane.kind === 'take' && (!lane.sounds || voice.passages !== null)) {
    items.push({
      label: voice.passages === null ? 'Let this take sound' : 'Let this take alone sound',
      run: () => edit({ kind: 'chooseTake', voiceId: voice.id, takeId: take.id }),
    });
  }
  if (voice !== null) items.push({ label: 'Bring to hand', run: () => bringToHand(lane) });
  if (voice !== null && lane.takeCount > 0) {
    items.push({ label: unfolded ? 'Fold the takes' : 'Unfold the takes', run: () => foldTakes(voice.id) });
  }
  return items;
}

/** Makes the stretch a take of its own, of the same clip and the same voice. */
function partItem({ take, facts }: Lane, stretch: SpanView): MenuItem {
  const label = 'Make this stretch a take';
  const session = useDesk.getState().view?.session;
  if (take === null || session === undefined) return { label, run: () => {}, not: 'There is no take here.' };
  const part = stretchOfClip(take, stretch, facts?.clipSec ?? 0);
  if (part === null) {
    return { label, run: () => {}, not: `Select ${LEAST_PART_SEC} s of its clip or more first.` };
  }
  const id = `take-${crypto.randomUUID().slice(0, 8)}`;
  return { label, run: () => edit(partEdit(session, take, part, id)) };
}

function learnItem(lane: Lane, stretch: SpanView): MenuItem {
  const label = 'Learn the noise here';
  const { take, facts } = lane;
  if (take === null) return { label, run: () => {}, not: 'There is no take here.' };
  const place = placeOf(take.placement);
  const fromSec = Math.max(0, takeSecOf(place, stretch.fromSec));
  const toSec = Math.min(facts?.lengthSec ?? Number.POSITIVE_INFINITY, takeSecOf(place, stretch.toSec));
  if (toSec <= fromSec) return { label, run: () => {}, not: 'The stretch lies outside the clip.' };
  return { label, run: () => edit({ kind: 'setSilence', takeId: take.id, silence: { fromSec, toSec } }) };
}
