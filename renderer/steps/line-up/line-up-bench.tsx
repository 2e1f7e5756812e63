import { useView } from '../../desk/desk-store.ts';
import { useTakeAtHand } from '../drawing/take-at-hand.ts';
import { AskingTakes } from './asking-takes.tsx';
import { Claps } from './claps.tsx';
import { Evidence } from './evidence.tsx';
import { OffsetPart } from './offset-part.tsx';
import { PinGlass } from './pin-glass.tsx';
import { PinsList } from './pins-list.tsx';
import { PlacementsTable } from './placements-table.tsx';
import { TakePlace } from './take-place.tsx';
import './line-up-bench.css';

/** Where each take lies and what speaks for it: its offset over time, pins by hand, and the claps to see it by. */
export function LineUpBench() {
  const atHand = useTakeAtHand();
  if (atHand === undefined) {
    return (
      <div className="bench line-up-bench">
        <div className="line-up-head">
          <h2>Line up</h2>
          <p>There is no take to line up yet. Add clips in the step Takes.</p>
        </div>
      </div>
    );
  }
  const { take } = atHand;
  return (
    <div className="bench line-up-bench">
      <LineUpHead />
      <div className="line-up-bench-parts">
        <AskingTakes takeId={take.id} />
        <PlacementsTable takeId={take.id} />
        <TakePlace take={take} />
        <OffsetPart take={take} key={`offset ${take.id}`} />
        <PinGlass atHand={atHand} key={`glass ${take.id}`} />
        <PinsList take={take} key={`pins ${take.id}`} />
        <Claps takeId={take.id} />
        <Evidence take={take} />
      </div>
    </div>
  );
}

function LineUpHead() {
  const { sentence } = useView().steps.lineUp;
  return (
    <div className="line-up-head">
      <h2>Line up</h2>
      <p className="faint">{sentence}</p>
    </div>
  );
}
