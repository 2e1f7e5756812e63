import { useTakeAtHand } from '../drawing/take-at-hand.ts';
import { Claps } from './claps.tsx';
import { Evidence } from './evidence.tsx';
import { PlacementsTable } from './placements-table.tsx';
import { TakePlace } from './take-place.tsx';
import './line-up-bench.css';

/** Where each take lies, what speaks for it, and the claps to see it by. */
export function LineUpBench() {
  const atHand = useTakeAtHand();
  return (
    <div className="bench line-up-bench">
      {atHand === undefined ? (
        <p>There is no take to line up yet. Add clips in the step Takes.</p>
      ) : (
        <div className="line-up-bench-parts">
          <PlacementsTable takeId={atHand.take.id} />
          <Claps takeId={atHand.take.id} />
          <div className="line-up-bench-take">
            <TakePlace take={atHand.take} />
            <Evidence take={atHand.take} />
          </div>
        </div>
      )}
    </div>
  );
}
