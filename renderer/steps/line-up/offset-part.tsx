import { useState } from 'react';
import { type Against, offsetCurve, residualWarning } from '../../../core/session/offset-curve.ts';
import { msRange } from '../../../core/session/offset-drawing.ts';
import type { Placement, Take } from '../../../core/session/schema.ts';
import { ask, edit, useTakeFacts, useView } from '../../desk/desk-store.ts';
import { Button } from '../../parts/button.tsx';
import { Choice } from '../../parts/choice.tsx';
import { Explain } from '../../parts/explain.tsx';
import { Note } from '../../parts/note.tsx';
import { figure } from '../../parts/numbers.ts';
import { CloserWider } from './closer-wider.tsx';
import { OffsetNumbers } from './offset-numbers.tsx';
import { OffsetPicture } from './offset-picture.tsx';
import { backEdit } from './placement-edits.ts';
import { reachWords, unheardWords } from './placement-words.ts';
import './offset-part.css';

/** The take's offset over time: what each witness says along the take, and the place that came of it. */
export function OffsetPart({ take }: { readonly take: Take }) {
  const { session } = useView();
  const facts = useTakeFacts(take.id);
  const [against, setAgainst] = useState<Against>('place');
  const [closer, setCloser] = useState(0);
  const { placement } = take;
  if (placement === null || facts === undefined || facts.lengthSec === 0) return null;
  const curve = offsetCurve(placement, facts.lengthSec, against);
  const range = msRange(curve, against, closer);
  const warning = residualWarning(placement);
  const plan = session.guide?.plan ?? null;
  return (
    <section className="offset-part" aria-labelledby="offset-part-title">
      <div className="offset-part-head">
        <h3 id="offset-part-title">
          <Explain word="offsetCurve">Offset over time</Explain>
        </h3>
        <span className="offset-part-residual">
          {curve.residualMs === null ? null : (
            <>
              <Explain word="residual">any moment within</Explain> {reachWords(curve.residualMs)} of its place
            </>
          )}
        </span>
        <Choice<Against>
          label="Shown against"
          hideLabel
          value={against}
          options={[
            { value: 'place', label: 'against its place' },
            { value: 'even', label: 'against an even clock' },
          ]}
          onChange={setAgainst}
        />
        <span className="offset-part-zoom">
          <CloserWider
            words={`± ${figure((range.highMs - range.lowMs) / 2, 0)} ms`}
            onCloser={range.canCloser ? () => setCloser(closer + 1) : null}
            onWider={range.canWider ? () => setCloser(closer - 1) : null}
          />
        </span>
      </div>
      {warning === null || placement.by === 'found' || placement.residualSec !== undefined ? null : (
        <Note kind="look" title="Look here:">
          {warning}
        </Note>
      )}
      {curve.isHeard ? null : <UnheardNote take={take} placement={placement} />}
      <OffsetPicture take={take} curve={curve} against={against} range={range} plan={plan} />
      <OffsetNumbers curve={curve} against={against} plan={plan} />
    </section>
  );
}

/** Why the take has no curve, and where it may help the way to one. */
function UnheardNote({ take, placement }: { readonly take: Take; readonly placement: Placement }) {
  const { jobs } = useView();
  const { words, mayHelp } = unheardWords(placement);
  const askAgain = (): void => {
    const change = backEdit(take);
    if (change !== undefined) edit(change);
    void ask((bridge) => bridge.calls.lineUpAgain({ takeIds: [take.id] }));
  };
  return (
    <Note
      actions={
        mayHelp && (
          <Button small disabled={jobs.some((job) => job.kind === 'lineUp')} onClick={askAgain}>
            Line it up again
          </Button>
        )
      }
    >
      {words}
    </Note>
  );
}
