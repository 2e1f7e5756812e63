import { useEffect, useMemo, useState } from 'react';
import { wavePeaks } from '../../../core/picture/wave-peaks.ts';
import { soundingTake } from '../../../core/session/passages.ts';
import { clockOf } from '../../../core/signal/clock.ts';
import { theBridge, useView } from '../../desk/desk-store.ts';
import { pictureSpan } from './picture-model.ts';

/** Same as WAVE_LEVEL_FRAMES of the contract, whose types alone a page may import. */
const LEVEL = 1;
const LEVEL_FRAMES = 4096;
/** As many as the desk draws. */
const PEAKS = 160;
const NONE: readonly number[] = [];

/** The shape of a voice's sound over the video, 0 to 1; none until it is known. */
export function usePeaks(voiceId: string): readonly number[] {
  const view = useView();
  const voice = view.session.voices.find(({ id }) => id === voiceId);
  const take = voice === undefined ? undefined : soundingTake(view.session, voice);
  const facts = take === undefined ? undefined : view.takes[take.id];
  const [pairs, setPairs] = useState<Int16Array | null>(null);
  const takeId = facts?.waves.after === true ? facts.takeId : null;
  useEffect(() => {
    if (takeId === null) return undefined;
    const stop = new AbortController();
    fetch(theBridge().mediaUrl(`wave/${encodeURIComponent(takeId)}/after/${LEVEL}`), { signal: stop.signal })
      .then((answer) => (answer.ok ? answer.arrayBuffer() : undefined))
      .then((bytes) => bytes !== undefined && setPairs(new Int16Array(bytes, 0, bytes.byteLength >> 1)))
      .catch(() => undefined);
    return () => stop.abort();
  }, [takeId]);
  const { fromSec, toSec } = pictureSpan(view);
  const rateHz = facts?.rateHz ?? 0;
  const placement = take?.placement ?? null;
  return useMemo(() => {
    if (pairs === null || placement === null || rateHz === 0) return NONE;
    return wavePeaks(pairs, LEVEL_FRAMES / rateHz, clockOf(placement), { fromSec, toSec }, PEAKS);
  }, [pairs, rateHz, placement, fromSec, toSec]);
}
