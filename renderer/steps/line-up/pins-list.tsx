import { useId, useState } from 'react';
import type { Anchor } from '../../../core/session/anchored-clock.ts';
import { anchorsOf, foundOf } from '../../../core/session/anchors.ts';
import { isUnplaced } from '../../../core/session/place-words.ts';
import type { Take } from '../../../core/session/schema.ts';
import { driftPpmAt, sessionSecOf } from '../../../core/signal/clock.ts';
import { SESSION_RATE_HZ } from '../../../core/signal/time.ts';
import { edit, useView } from '../../desk/desk-store.ts';
import { placeAt, placeInWords } from '../../lanes/bar-map.ts';
import { playbackFrame } from '../../lanes/the-player.ts';
import { Button } from '../../parts/button.tsx';
import { Explain } from '../../parts/explain.tsx';
import { Note } from '../../parts/note.tsx';
import { clock } from '../../parts/numbers.ts';
import { NumberField } from '../drawing/number-field.tsx';
import { takeSecAt } from '../drawing/take-time.ts';
import { lookAt } from './glass-store.ts';
import { aloneOutcome, jumpOutcome, type PinOutcome, unpinOutcome } from './placement-edits.ts';
import { apartWords, driftWords } from './placement-words.ts';

/** The pins of the take in hand: where, what each asks for, and what lies between. */
export function PinsList({ take }: { readonly take: Take }) {
  const [reason, setReason] = useState<string | null>(null);
  const plan = useView().session.guide?.plan ?? null;
  const { placement } = take;
  const pins = anchorsOf(placement);
  const found = foundOf(placement);
  const act = (outcome: PinOutcome): void => {
    setReason('reason' in outcome ? outcome.reason : null);
    if ('edit' in outcome) edit(outcome.edit);
  };
  const where = (sec: number): string => {
    const at = plan === null ? null : placeAt(plan, sec);
    return at === null ? '' : `, ${placeInWords(at)}`;
  };
  const askedFor = (one: Anchor): string => {
    if (found === undefined || placement === null || isUnplaced({ ...placement, ...found }))
      return 'nothing was found before';
    const words = apartWords(one.atSec - sessionSecOf(found, one.takeSec));
    return words === 'agrees' ? 'as found' : `${words} than found`;
  };
  return (
    <section className="pins-list" aria-labelledby="pins-list-title">
      <h3 id="pins-list-title">
        <Explain word="pin">Pins</Explain>
      </h3>
      {pins.length === 0 || placement === null ? (
        <p className="pins-list-none">
          None yet. One pin moves the take, two give its clock's speed as well, and more bend it where they are. Pin
          where you hear a sharp beginning, best near both ends.
        </p>
      ) : (
        <>
          <ol className="pins-list-rows">
            {pins.map((one, n) => (
              <li key={one.takeSec}>
                {n === 0 ? null : <Between take={take} pin={one} before={pins[n - 1]!} act={act} />}
                <div className="pins-list-pin">
                  <span>
                    <strong>{clock(one.atSec, 3)}</strong>
                    {where(one.atSec)}
                    <span className="pins-list-asks">{askedFor(one)}</span>
                  </span>
                  <Button
                    small
                    aria-label={`Look at the pin at ${clock(one.atSec, 3)}`}
                    onClick={() => lookAt(take.id, one.atSec)}
                  >
                    Look
                  </Button>
                  <Button
                    small
                    kind="removes"
                    aria-label={`Take away the pin at ${clock(one.atSec, 3)}`}
                    onClick={() => act(unpinOutcome(take, one.takeSec))}
                  >
                    Take away
                  </Button>
                </div>
              </li>
            ))}
          </ol>
          {(found?.bends?.length ?? 0) > 0 ? (
            <label className="pins-list-alone">
              <input
                type="checkbox"
                checked={placement.anchorsAlone !== true}
                onChange={(event) => act(aloneOutcome(take, !event.target.checked))}
              />
              Keep the changes of its clock that were found
            </label>
          ) : null}
        </>
      )}
      {reason === null || reason === '' ? null : (
        <div role="alert">
          <Note kind="look">{reason}</Note>
        </div>
      )}
    </section>
  );
}

interface BetweenProps {
  readonly take: Take;
  readonly pin: Anchor;
  readonly before: Anchor;
  readonly act: (outcome: PinOutcome) => void;
}

/** What lies between two pins: a clock that runs evenly, or sound that is missing. */
function Between({ take, pin, before, act }: BetweenProps) {
  const id = useId();
  const { placement } = take;
  if (placement === null) return null;
  const { jumpTakeSec } = pin;
  const bend = placement.bends?.find((one) => one.takeSec === jumpTakeSec);
  const atPlayback = (): number => takeSecAt(playbackFrame() / SESSION_RATE_HZ, placement);
  return (
    <div className="pins-list-between">
      <label>
        <input
          type="checkbox"
          checked={jumpTakeSec !== null}
          aria-describedby={id}
          onChange={(event) => act(jumpOutcome(take, pin.takeSec, event.target.checked, atPlayback()))}
        />
        Sound is missing or doubled here
      </label>
      <span id={id} className="pins-list-says">
        {jumpTakeSec === null
          ? `its clock: ${driftWords(driftPpmAt(placement, (before.takeSec + pin.takeSec) / 2))}`
          : jumpWords(bend?.jumpSec ?? 0)}
      </span>
      {jumpTakeSec === null ? null : (
        <NumberField
          label="at"
          unit="s"
          value={sessionSecOf(placement, jumpTakeSec)}
          digits={2}
          step={0.1}
          lowest={before.atSec}
          highest={pin.atSec}
          onSet={(sec) => act(jumpOutcome(take, pin.takeSec, true, takeSecInside(sec, jumpTakeSec, placement)))}
        />
      )}
    </div>
  );
}

/** The take time of a session time that is counted from a jump on: on the side of the jump to which it lies. */
function takeSecInside(sec: number, jumpTakeSec: number, placement: NonNullable<Take['placement']>): number {
  return jumpTakeSec + (sec - sessionSecOf(placement, jumpTakeSec));
}

function jumpWords(jumpSec: number): string {
  const ms = Math.abs(1000 * jumpSec);
  if (ms < 0.05) return 'but the pins agree without';
  return `${ms.toFixed(ms < 10 ? 1 : 0)} ms ${jumpSec > 0 ? 'missing' : 'doubled'}`;
}
