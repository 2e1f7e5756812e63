import { useEffect, useState } from 'react';
import { Figure } from '../parts/figure.tsx';
import { usePlayback } from './playback-state.ts';
import type { PlayedLevels } from './player.ts';
import { thePlayer } from './the-player.ts';

/** Numbers that change faster than this cannot be read, ms. */
const READ_MS = 250;

/** How loud the mix is just now: the last 400 ms, the last 3 s, and how far the limiter turns down. */
export function HeardLevels() {
  const playing = usePlayback((state) => state.playing);
  const levels = useReadableLevels();
  const shown = playing ? levels : null;
  return (
    <dl className="heard-levels">
      <div>
        <dt>momentary</dt>
        <dd>
          <Figure value={shown?.momentaryLufs} unit="LUFS" word="momentary" />
        </dd>
      </div>
      <div>
        <dt>short-term</dt>
        <dd>
          <Figure value={shown?.shortTermLufs} unit="LUFS" word="shortTerm" />
        </dd>
      </div>
      <div>
        <dt>limiter</dt>
        <dd>
          <Figure value={shown === null ? null : -shown.limiterDb} unit="dB" word="limiter" />
        </dd>
      </div>
    </dl>
  );
}

/** The newest levels, slow enough to be read; the limiter's most in between. */
function useReadableLevels(): PlayedLevels | null {
  const [levels, setLevels] = useState<PlayedLevels | null>(null);
  useEffect(() => {
    let told = 0;
    let limiterDb = 0;
    return thePlayer().onLevels((next) => {
      limiterDb = Math.max(limiterDb, next.limiterDb);
      const now = performance.now();
      if (now - told < READ_MS) return;
      setLevels({ ...next, limiterDb });
      told = now;
      limiterDb = 0;
    });
  }, []);
  return levels;
}
