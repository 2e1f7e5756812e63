import type { StepState } from '../../app/shell/contract/desk-view.ts';
import './state-sign.css';

/** The words of a step's state. */
export const stateWords: Readonly<Record<StepState, string>> = { toDo: 'to do', lookHere: 'look here', done: 'done' };

/**
 * The sign of a state, as signs in a score: an open note for what is still to be done, a bracket with a dot where to look, a
 * double bar for what is finished. Its words stand beside it, so it is nothing to a screen reader.
 */
export function StateSign({ state }: { state: StepState }) {
  return (
    <svg className={`state-sign state-sign-${state}`} viewBox="0 0 16 16" width="16" height="16" aria-hidden="true">
      {state === 'toDo' && (
        <ellipse cx="8" cy="8" rx="5.6" ry="4" transform="rotate(-22 8 8)" className="state-sign-line" />
      )}
      {state === 'lookHere' && (
        <>
          <path d="M5.5 1.5H2.5V14.5H5.5M10.5 1.5H13.5V14.5H10.5" className="state-sign-line" />
          <circle cx="8" cy="8" r="2.2" className="state-sign-fill" />
        </>
      )}
      {state === 'done' && (
        <>
          <path d="M5 1.5V14.5" className="state-sign-line" />
          <rect x="8.5" y="1.5" width="4" height="13" className="state-sign-fill" />
        </>
      )}
    </svg>
  );
}
