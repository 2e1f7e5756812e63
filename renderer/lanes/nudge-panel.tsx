import { useRef } from 'react';
import type { Take, Voice } from '../../core/session/schema.ts';
import { change, figure } from '../parts/numbers.ts';
import { nudge, nudgeSteps } from './nudge.ts';
import { SESSION_RATE_HZ } from './time-view.ts';

export interface NudgePanelProps {
  readonly take: Take;
  readonly voice: Voice;
  /** Whose waveform is shown behind; null: nobody's. */
  readonly neighbour: string | null;
}

/** Moves the take in hand by samples and milliseconds, with its place in numbers. */
export function NudgePanel({ take, voice, neighbour }: NudgePanelProps) {
  const offsetSec = take.placement?.offsetSec ?? 0;
  const begun = useRef({ takeId: take.id, offsetSec });
  if (begun.current.takeId !== take.id) begun.current = { takeId: take.id, offsetSec };
  const movedSec = offsetSec - begun.current.offsetSec;
  const frames = offsetSec * SESSION_RATE_HZ;
  return (
    <section
      className="lanes-nudge"
      aria-label={`Move ${voice.name} by hand`}
      aria-describedby="lanes-nudge-hint"
      title="Keys: comma and full stop 1 ms, with Shift 10 ms, with Alt 1 sample; or drag with Alt."
    >
      <span className="lanes-nudge-title">
        Move <b>{voice.name}</b>
      </span>
      <span className="lanes-nudge-steps">
        {[...nudgeSteps].reverse().map(({ label, frames: step }) => (
          <button key={label} type="button" aria-label={`${label} earlier`} onClick={() => nudge(take, -step)}>
            −{label}
          </button>
        ))}
        {nudgeSteps.map(({ label, frames: step }) => (
          <button key={label} type="button" aria-label={`${label} later`} onClick={() => nudge(take, step)}>
            +{label}
          </button>
        ))}
      </span>
      <span className="lanes-nudge-figures" role="status">
        begins at {figure(1000 * offsetSec, 3)} ms = {figure(frames, 0)} frames
        {Math.abs(movedSec) > 1e-9 ? `, moved by ${change(1000 * movedSec, 3)} ms` : ''}
      </span>
      <span className="lanes-nudge-hint" id="lanes-nudge-hint">
        {neighbour === null ? '' : `${neighbour} is shown grey behind. `}Keys: comma and full stop 1 ms, with Shift 10
        ms, with Alt 1 sample; or drag with Alt.
      </span>
    </section>
  );
}
