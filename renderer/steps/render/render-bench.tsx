import { useState } from 'react';
import type { RenderView } from '../../../app/shell/contract/desk-view.ts';
import { ask, useView } from '../../desk/desk-store.ts';
import { Progress } from '../../parts/progress.tsx';
import { useShownWhenNew } from '../../parts/shown-when-new.ts';
import { FormChoice } from './form-choice.tsx';
import { LoudnessChoice } from './loudness-choice.tsx';
import { PlanList } from './plan-list.tsx';
import { keepChoices, keptChoices } from './render-choices.ts';
import { type RenderChoices, renderPlan, usualFolder } from './render-plan.ts';
import { RenderResult } from './render-result.tsx';
import { resultSentence } from './result-words.ts';
import './render-bench.css';

/** The bench of Render: how loud, in which form, what will be made, and then where it is and how it came out. */
export function RenderBench() {
  const view = useView();
  const [choices, setChoices] = useState(keptChoices);
  const choose = (change: Partial<RenderChoices>): void => {
    const next = { ...choices, ...change };
    setChoices(next);
    keepChoices(next);
  };
  const job = view.jobs.find((one) => one.kind === 'render');
  const plan = renderPlan(view, choices);
  const made = useShownWhenNew(view.render?.current === true ? stampOf(view.render) : null);
  return (
    <div className="render">
      <div className="render-head">
        <h2>Render</h2>
        <p className="faint">{view.steps.render.sentence}</p>
      </div>
      <p className="unseen" role="status">
        {view.render?.current === true && `Your mix is ready. ${resultSentence(view.render)}`}
      </p>
      {view.render !== null && (
        <div ref={made}>
          <RenderResult render={view.render} />
        </div>
      )}
      <div className="render-columns">
        <LoudnessChoice />
        <FormChoice choices={choices} onChoose={choose} sessionFolder={view.folder} />
        <PlanList
          plan={plan}
          folder={choices.folder ?? usualFolder(view.folder)}
          isRunning={job !== undefined}
          hasResult={view.render?.current === true}
          onStart={() => void ask((bridge) => bridge.calls.render(choices))}
        >
          {job !== undefined && (
            <Progress
              title={job.title}
              fraction={job.fraction}
              leftSec={job.leftSec}
              onStop={job.canStop ? () => void ask((bridge) => bridge.calls.stopJob({ jobId: job.id })) : undefined}
            />
          )}
        </PlanList>
      </div>
    </div>
  );
}

/** Tells one render from another; the same again is nothing new. */
function stampOf({ files, integratedLufs, lengthSec }: RenderView): string {
  return [...files.map(({ path, sizeBytes }) => `${path} ${sizeBytes}`), integratedLufs, lengthSec].join();
}
