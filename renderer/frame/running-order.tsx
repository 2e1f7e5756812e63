import { useBench } from '../desk/bench-store.ts';
import { stepsInOrder, useView } from '../desk/desk-store.ts';
import { StateSign, stateWords } from '../parts/state-sign.tsx';

const numerals = ['I', 'II', 'III', 'IV', 'V', 'VI', 'VII', 'VIII', 'IX'] as const;

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
          return (
            <li key={name}>
              <button
                type="button"
                className="order-step"
                aria-current={name === current ? 'step' : undefined}
                title={`${step.sentence} (key ${at + 1})`}
                onClick={() => useBench.setState({ step: name })}
              >
                <span className="order-number" aria-hidden="true">
                  {numerals[at]}
                </span>
                <span className="order-name">{label}</span>
                <StateSign state={step.state} />
                <span className="order-state">
                  {stateWords[step.state]}
                  {step.busy && <span className="order-busy"> · working</span>}
                </span>
                <span className="order-sentence">{step.sentence}</span>
              </button>
            </li>
          );
        })}
      </ol>
    </nav>
  );
}
