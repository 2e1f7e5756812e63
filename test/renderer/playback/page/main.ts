import { connectDesk, edit, useDesk } from '../../../../renderer/desk/desk-store.ts';
import { runOffline } from '../../../../renderer/playback/offline-mix.ts';
import { offlineMix } from '../../../../renderer/playback/offline-session.ts';
import { thePlayer, usePlayback } from '../../../../renderer/playback/player.ts';
import { standInBridge } from '../../../stand-in/stand-in-bridge.ts';
import { inventedVoices, streamOf } from '../play.ts';

const FRAMES = 96_000;

/** Invented voices through the sound thread without a device; left, then right. */
async function offlineOfInvented(count: number, seed: number, fromFrame: number): Promise<number[]> {
  const sources = inventedVoices(count, FRAMES, seed);
  const stream = streamOf(1, count);
  const { voices, span, ceilingDbtp, settings } = stream;
  const read = async (from: number, frames: number): Promise<Float32Array<ArrayBuffer>> => {
    const samples = new Float32Array(count * frames);
    for (const [n, source] of sources.entries()) samples.set(source.subarray(from, from + frames), n * frames);
    return samples;
  };
  const mix = { sources: sources.map(String), voices, span, ceilingDbtp, endFrame: FRAMES, settings };
  const [left, right] = await runOffline(mix, read, fromFrame, FRAMES);
  return [...left, ...right];
}

connectDesk(standInBridge(new URLSearchParams(location.search)));
document.getElementById('play')?.addEventListener('click', () => void thePlayer().play());

const underTest = { offlineOfInvented, offlineMix, thePlayer, usePlayback, useDesk, edit };
export type UnderTest = typeof underTest;
Object.assign(globalThis, { underTest });
