import { useState } from 'react';
import type { KeptPlan } from '../../../core/session/kept-plan.ts';
import type { Against, OffsetCurve } from '../../../core/session/offset-curve.ts';
import { witnessName } from '../../../core/session/offset-drawing.ts';
import { placeAt, placeInWords } from '../../lanes/bar-map.ts';
import { clock, figure } from '../../parts/numbers.ts';
import { msWords } from './offset-axes.ts';

interface OffsetNumbersProps {
  readonly curve: OffsetCurve;
  readonly against: Against;
  readonly plan: KeptPlan | null;
}

/** The curve as a table: the same moments, in the same order. */
export function OffsetNumbers({ curve, against, plan }: OffsetNumbersProps) {
  const [open, setOpen] = useState(false);
  const where = (sec: number): string => {
    const at = plan === null ? null : placeAt(plan, sec);
    return at === null ? '' : placeInWords(at);
  };
  return (
    <details className="offset-numbers" onToggle={(event) => setOpen(event.currentTarget.open)}>
      <summary>The same as numbers</summary>
      {open ? (
        // biome-ignore lint/a11y/noNoninteractiveTabindex: what scrolls must be reached by keyboard
        <section className="offset-numbers-scroll" tabIndex={0} aria-label="Offset over time, as numbers">
          <table>
            <caption className="unseen">
              What each witness says along the take, against {against === 'place' ? 'its place' : 'an even clock'}
            </caption>
            <thead>
              <tr>
                <th scope="col" className="offset-number">
                  session time
                </th>
                {plan === null ? null : <th scope="col">bar</th>}
                <th scope="col">witness</th>
                <th scope="col" className="offset-number">
                  would have it
                </th>
                <th scope="col" className="offset-number">
                  exact to
                </th>
                <th scope="col">used</th>
              </tr>
            </thead>
            <tbody>
              {curve.bends.map((bend) => (
                <tr key={`bend ${bend.takeSec}`}>
                  <td className="offset-number">{clock(bend.atSec, 2)}</td>
                  {plan === null ? null : <td>{where(bend.atSec)}</td>}
                  <td colSpan={4}>the clock changes: {bend.words}</td>
                </tr>
              ))}
              {curve.points.map((one) => (
                <tr key={`${one.kind}${one.atSec}/${one.takeSec}`}>
                  <td className="offset-number">{clock(one.atSec, 2)}</td>
                  {plan === null ? null : <td>{where(one.atSec)}</td>}
                  <td>{witnessName(one.kind)}</td>
                  <td className="offset-number">
                    {Math.abs(one.offMs) < 0.05
                      ? msWords(0, against)
                      : `${figure(Math.abs(one.offMs), 1)} ms ${one.offMs > 0 ? 'later' : 'earlier'}`}
                  </td>
                  <td className="offset-number">± {figure(one.reachMs, one.reachMs < 10 ? 1 : 0)} ms</td>
                  <td>{one.accepted ? 'yes' : 'set aside'}</td>
                </tr>
              ))}
            </tbody>
          </table>
        </section>
      ) : null}
    </details>
  );
}
