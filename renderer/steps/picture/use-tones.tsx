import { useEffect, useState } from 'react';
import { type ToneChange, toneOnScreen } from '../../../core/picture/tone-match.ts';
import { ask, useView } from '../../desk/desk-store.ts';

export type Tones = Readonly<Record<string, ToneChange | null>>;

const NONE: Tones = {};

/** What matches the clips' light and colour, by voice id; none where it was not chosen, and until it was measured. */
export function useTones(isMatched: boolean): Tones {
  const [tones, setTones] = useState(NONE);
  const { session, takes } = useView();
  const pictured = Object.values(takes).filter(({ picture }) => picture !== null).length;
  // Whose takes sound, and how many clips were looked at by now: what is measured hangs on these.
  const key = `${session.voices.map(({ id, chosenTakeId, muted }) => `${id} ${chosenTakeId} ${muted}`).join()} ${pictured}`;
  // biome-ignore lint/correctness/useExhaustiveDependencies: key stands for the voices
  useEffect(() => {
    let isHere = true;
    setTones(NONE);
    if (isMatched) {
      void ask((bridge) => bridge.calls.matchedTones({})).then(
        (answer) => isHere && answer != null && setTones(answer.tones),
      );
    }
    return () => {
      isHere = false;
    };
  }, [isMatched, key]);
  return tones;
}

/** Name of the filter that shows a voice's clips with their change. */
export function toneFilterId(voiceId: string): string {
  return `picture-tone-${voiceId}`;
}

/** The filters of the tiles, as the video has them: they have to stand in the page. */
export function ToneFilters({ tones }: { tones: Tones }) {
  return (
    <svg className="picture-tones" width="0" height="0" aria-hidden="true">
      {Object.entries(tones).map(([voiceId, change]) => {
        if (change === null) return null;
        const { gain, shifts } = toneOnScreen(change);
        const [red, green, blue] = shifts;
        const rows = [`${gain} 0 0 0 ${red}`, `0 ${gain} 0 0 ${green}`, `0 0 ${gain} 0 ${blue}`, '0 0 0 1 0'];
        return (
          <filter
            key={voiceId}
            id={toneFilterId(voiceId)}
            colorInterpolationFilters="sRGB"
            x="0"
            y="0"
            width="1"
            height="1"
          >
            <feColorMatrix type="matrix" values={rows.join(' ')} />
          </filter>
        );
      })}
    </svg>
  );
}
