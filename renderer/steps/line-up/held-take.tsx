import { type KeyboardEvent, useRef } from 'react';
import type { TakeFacts } from '../../../app/shell/contract/desk-view.ts';
import { SESSION_RATE_HZ } from '../../../core/signal/time.ts';
import { Button } from '../../parts/button.tsx';
import { Note } from '../../parts/note.tsx';
import { change, clock, figure } from '../../parts/numbers.ts';
import { takeSecAt } from '../drawing/take-time.ts';
import { GlassRow } from './glass-row.tsx';
import { framesOfKey } from './magnified-sound.ts';
import { pinToMove } from './placement-edits.ts';
import type { HeldTake } from './use-held-take.ts';

interface HeldRowProps {
  readonly held: HeldTake;
  readonly facts: TakeFacts;
  readonly colour: string;
  readonly halfSec: number;
  readonly width: number;
}

/** The lower sound: moved by dragging, by keys, or by a click on what belongs under the line. */
export function HeldRow({ held, facts, colour, halfSec, width }: HeldRowProps) {
  const { take, atSec, shiftSec, hold } = held;
  const began = useRef(0);
  const place = take.placement ?? { driftPpm: 0, offsetSec: 0 };
  const onKey = (event: KeyboardEvent): void => {
    const by = event.key === 'Escape' ? 0 : framesOfKey(event.key, event.shiftKey);
    if (by === undefined) return;
    event.preventDefault();
    event.stopPropagation();
    hold(by === 0 ? 0 : shiftSec + by / SESSION_RATE_HZ);
  };
  return (
    <GlassRow
      source={take.id}
      name={take.name}
      lie={{ ...place, offsetSec: place.offsetSec + shiftSec }}
      {...{ facts, atSec, halfSec, width, colour }}
      onDrag={(bySec, isBeginning) => {
        if (isBeginning) began.current = shiftSec;
        hold(began.current + bySec);
      }}
      onClick={(bySec) => hold(shiftSec - bySec)}
      slider={{
        label: `${take.name}, held for a pin`,
        ms: 1000 * shiftSec,
        words: shiftWords(shiftSec),
        onKey,
      }}
    />
  );
}

/** What can be done with the take as it is held, how far that is from its place, and why it cannot be pinned there. */
export function PinHere({ held, lengthSec }: { readonly held: HeldTake; readonly lengthSec: number }) {
  const { take, atSec, shiftSec, reason, hold, pin } = held;
  const takeSec = takeSecAt(atSec - shiftSec, take.placement);
  const isInside = takeSec >= 0 && takeSec <= lengthSec;
  const moved = pinToMove(take.placement, takeSec);
  return (
    <>
      <div className="pin-glass-act">
        <Button kind="main" disabled={!isInside} onClick={pin}>
          {moved === undefined ? 'Pin here' : `Move the pin at ${clock(moved.atSec, 2)} here`}
        </Button>
        <span role="status">{isInside ? shiftWords(shiftSec) : 'The take has no sound here.'}</span>
        {shiftSec === 0 ? null : (
          <Button small kind="quiet" onClick={() => hold(0)}>
            As it lies
          </Button>
        )}
      </div>
      {reason === null ? null : (
        <div role="alert">
          <Note kind="look" title="It cannot be pinned so.">
            {reason}
          </Note>
        </div>
      )}
    </>
  );
}

function shiftWords(shiftSec: number): string {
  if (shiftSec === 0) return 'It lies as it is placed.';
  const size = `${figure(Math.abs(1000 * shiftSec), 2)} ms`;
  const frames = Math.round(Math.abs(shiftSec) * SESSION_RATE_HZ);
  return `Held ${size} ${shiftSec > 0 ? 'later' : 'earlier'} than its place (${change(shiftSec > 0 ? frames : -frames, 0)} samples).`;
}
