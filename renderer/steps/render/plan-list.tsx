import type { ReactNode } from 'react';
import { Button } from '../../parts/button.tsx';
import { Note } from '../../parts/note.tsx';
import { clock } from '../../parts/numbers.ts';
import { type RenderPlan, sizeWords } from './render-plan.ts';

export interface PlanListProps {
  readonly plan: RenderPlan;
  readonly folder: string;
  readonly isRunning: boolean;
  /** There is a render of the session as it is now. */
  readonly hasResult: boolean;
  readonly onStart: () => void;
  /** The progress while it runs. */
  readonly children: ReactNode;
}

/** What will be made and what is left out, before a byte is written; and the start of it. */
export function PlanList({ plan, folder, isRunning, hasResult, onStart, children }: PlanListProps) {
  return (
    <section className="render-part" aria-labelledby="render-plan">
      <h3 id="render-plan">What will be made</h3>
      <ul className="render-plan">
        {plan.files.map((file) => (
          <li key={file.what}>
            {file.words}
            {file.lengthSec !== null && file.sizeBytes !== null && file.sizeBytes > 0 && (
              <span className="faint small">
                {' '}
                {clock(file.lengthSec)}, about {sizeWords(file.sizeBytes)}
              </span>
            )}
          </li>
        ))}
      </ul>
      <p className="small faint path">In {folder}</p>
      {plan.leftOut.length > 0 && (
        <Note kind="look" title="Left out:">
          <ul>
            {plan.leftOut.map(({ voice, why }) => (
              <li key={voice}>
                <strong>{voice}</strong>: {why}
              </li>
            ))}
          </ul>
        </Note>
      )}
      <div role="status" className="render-progress">
        {children}
      </div>
      {!isRunning && (
        <div className="render-start">
          <Button kind={hasResult ? 'plain' : 'main'} disabled={plan.blocked !== null} onClick={onStart}>
            {hasResult ? 'Render again' : 'Render'}
          </Button>
          {plan.blocked !== null && <span className="small">{plan.blocked}</span>}
        </div>
      )}
      <p className="small faint">
        To publish a piece you need the rights to its music, unless it is free of them; the rules where you live decide.
      </p>
    </section>
  );
}
