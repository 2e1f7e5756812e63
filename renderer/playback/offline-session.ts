import { theBridge, useDesk } from '../desk/desk-store.ts';
import { readStretch } from './media-reader.ts';
import { planMix, type Wish } from './mix-plan.ts';
import { runOffline } from './offline-mix.ts';

const THE_MIX: Wish = { alone: [], audition: null, loop: null, inHand: null };

/**
 * The open session's mix as the player would sound it, session frames [fromFrame, toFrame): the sound thread's code over the
 * desk's own media, without a sound device. Out: left and right. For comparing what is heard with what is rendered.
 */
export async function offlineMix(
  fromFrame: number,
  toFrame: number,
  wish: Wish = THE_MIX,
): Promise<[Float32Array, Float32Array]> {
  const { view } = useDesk.getState();
  if (view === null) throw new Error('no session is open');
  const mix = planMix(view, wish, () => 0);
  return runOffline(mix, readStretch(theBridge(), mix.sources), fromFrame, toFrame);
}
