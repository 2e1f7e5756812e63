import { FARTHEST_NUDGE_MS, type Nudge } from '../../../core/pitch/mend.ts';
import type { KeptPlan } from '../../../core/session/kept-plan.ts';
import type { Mend, Take } from '../../../core/session/schema.ts';
import { useBench } from '../../desk/bench-store.ts';
import { stretchInBars } from '../../lanes/bar-map.ts';
import { showInLanes } from '../../lanes/lane-overlay.ts';
import { spanInWords } from '../../lanes/lane-words.ts';
import { Button } from '../../parts/button.tsx';
import { figure } from '../../parts/numbers.ts';
import { Slider } from '../../parts/slider.tsx';
import { GestureGroup } from '../drawing/gesture-group.tsx';
import { heardSpan, type MendPlace, nudgeOf, recordedSpan, withMend, withNudge } from './mend-edits.ts';

interface NudgesPartProps {
  readonly take: Take;
  readonly place: MendPlace;
  readonly lengthSec: number;
  readonly proposed: readonly Nudge[];
  readonly plan: KeptPlan | null;
  readonly onSet: (mend: Mend | null, key?: string | null) => void;
}

/** Stretches of a take that are to sound later or earlier. */
export function NudgesPart({ take, place, lengthSec, proposed, plan, onSet }: NudgesPartProps) {
  const { mend } = place;
  const nudges = mend?.nudges ?? [];
  const open = proposed.filter((one) => nudgeOf(mend, one)?.byMs !== one.byMs);
  const where = (span: Pick<Nudge, 'fromSec' | 'toSec'>): string => whereOf(plan, heardSpan(place, span));
  const show = (span: Pick<Nudge, 'fromSec' | 'toSec'>): void => {
    const heard = heardSpan(place, span);
    useBench.setState({ stretch: { ...heard, takeId: take.id } });
    showInLanes(heard);
  };
  return (
    <section aria-label="Stretches in time">
      <h4>Stretches in time</h4>
      <SelectedStretch take={take} place={place} lengthSec={lengthSec} plan={plan} onSet={onSet} />
      {nudges.length > 0 && (
        <ul className="mend-nudges" aria-label="Stretches that are moved">
          {nudges.map((nudge) => (
            <li key={nudge.fromSec}>
              <button type="button" className="intonation-row-button" onClick={() => show(nudge)}>
                {where(nudge)}
              </button>{' '}
              <span>{byWords(nudge.byMs)}</span>
              <Button
                small
                kind="removes"
                aria-label={`Remove the move of ${where(nudge)}`}
                onClick={() => onSet(withNudge(mend, { ...nudge, byMs: 0 }))}
              >
                Remove
              </Button>
            </li>
          ))}
        </ul>
      )}
      {open.length > 0 && (
        <>
          <p className="mend-proposed">
            Proposed, since these notes are early or late alike:{' '}
            {open.length > 1 && (
              <Button small onClick={() => onSet(open.reduce<Mend | null>(withNudge, mend))}>
                Take all of them over
              </Button>
            )}
          </p>
          <ul className="mend-nudges" aria-label="Stretches that are proposed">
            {open.map((nudge) => (
              <li key={nudge.fromSec}>
                <button type="button" className="intonation-row-button" onClick={() => show(nudge)}>
                  {where(nudge)}
                </button>{' '}
                <span>{byWords(nudge.byMs)}</span>
                <Button
                  small
                  aria-label={`Take it over: ${where(nudge)}`}
                  onClick={() => onSet(withNudge(mend, nudge))}
                >
                  Take it over
                </Button>
              </li>
            ))}
          </ul>
        </>
      )}
      {nudges.length > 1 && (
        <Button small kind="removes" onClick={() => onSet(withMend(mend, { nudges: [] }))}>
          Remove all of them
        </Button>
      )}
    </section>
  );
}

type SelectedProps = Omit<NudgesPartProps, 'proposed'>;

/** Moves the stretch that is selected in the take's lane. */
function SelectedStretch({ take, place, lengthSec, plan, onSet }: SelectedProps) {
  const stretch = useBench((state) => state.stretch);
  const { mend } = place;
  const isOwn = stretch !== null && (stretch.takeId === null || stretch.takeId === take.id);
  const whole = isOwn ? recordedSpan(place, stretch) : null;
  const span = whole === null ? null : { fromSec: Math.max(0, whole.fromSec), toSec: Math.min(lengthSec, whole.toSec) };
  if (stretch === null || span === null || span.toSec - span.fromSec < 0.05) {
    return (
      <p className="small faint">
        Select a stretch in its lane (drag, or Shift and the arrow keys), or a note's by its button above, to let it
        sound later or earlier by up to {FARTHEST_NUDGE_MS} ms.
      </p>
    );
  }
  return (
    <GestureGroup>
      {(key) => (
        <Slider
          label={`Later or earlier: ${whereOf(plan, stretch)}`}
          value={nudgeOf(mend, span)?.byMs ?? 0}
          min={-FARTHEST_NUDGE_MS}
          max={FARTHEST_NUDGE_MS}
          step={1}
          digits={0}
          unit="ms"
          onChange={(byMs) => onSet(withNudge(mend, { ...span, byMs: Math.round(byMs) }), key('mend-nudge'))}
        />
      )}
    </GestureGroup>
  );
}

/** A stretch in bars where there are some, else by its times. */
function whereOf(plan: KeptPlan | null, span: Pick<Nudge, 'fromSec' | 'toSec'>): string {
  const bars = plan === null ? '' : stretchInBars(plan, span);
  return bars === '' ? spanInWords(span) : bars;
}

/** "30 ms later", "12 ms earlier". */
function byWords(byMs: number): string {
  return `${figure(Math.abs(byMs), 0)} ms ${byMs < 0 ? 'earlier' : 'later'}`;
}
