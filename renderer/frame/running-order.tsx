import type { StepView } from '../../app/shell/contract/desk-view.ts';
import { useBench } from '../desk/bench-store.ts';
import { stepsInOrder, useView } from '../desk/desk-store.ts';
import { StateSign, stateWords } from '../parts/state-sign.tsx';
import { goToStep } from './frame-commands.ts';
import { toBench } from './to-place.ts';

const numerals = ['I', 'II', 'III', 'IV', 'V', 'VI', 'VII', 'VIII', 'IX'] as const;

/** A step at work is not done, whatever of it stands. */
function shownState({ state, busy }: StepView): StepView['state'] {
  return busy && state === 'done' ? 'toDo' : state;
}

/** The steps of the job, each with its state; press one to have its bench below the lanes. */
export function RunningOrder() {
  const steps = useView().steps;
  const current = useBench((state) => state.step);
  return (
    <nav className="order" aria-labelledby="order-title">
      <h2 className="order-title caps" id="order-title">
        Running order
      </h2>
      <ol className="order-list">
        {stepsInOrder.map(({ name, label }, at) => {
          const step = steps[name];
          const state = shownState(step);
          return (
            <li key={name}>
              <button
                type="button"
                className={state === 'lookHere' ? 'order-step order-step-look' : 'order-step'}
                aria-current={name === current ? 'step' : undefined}
                title={`${step.sentence} (key ${at + 1})`}
                onClick={() => goToStep(name)}
              >
                <span className="order-number" aria-hidden="true">
                  {numerals[at]}
                </span>
                <span className="order-name">{label}</span>
                <StateSign state={state} />
                <span className="order-state">
                  {!step.busy ? stateWords[state] : state === 'toDo' ? 'working' : `${stateWords[state]} · working`}
                </span>
                <span className="order-sentence">{step.sentence}</span>
              </button>
            </li>
          );
        })}
      </ol>
      <button type="button" className="order-skip unseen-till-focus" onClick={toBench}>
        To the bench of {stepsInOrder.find(({ name }) => name === current)?.label} (key B)
      </button>
    </nav>
  );
}
