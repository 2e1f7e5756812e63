import { useState } from 'react';
import type { TrialView } from '../../../app/shell/contract/guide-view.ts';
import { ask, useView } from '../../desk/desk-store.ts';
import { chooseClips } from '../../frame/pick.ts';
import { Button } from '../../parts/button.tsx';
import { Explain } from '../../parts/explain.tsx';
import { figure } from '../../parts/numbers.ts';
import { Progress } from '../../parts/progress.tsx';
import { StateSign } from '../../parts/state-sign.tsx';
import { takesInOrder } from '../drawing/take-at-hand.ts';
import { headroomDb, sinceBefore, trialState } from './check-words.ts';
import { TrialSheet } from './trial-sheet.tsx';
import './sound-check-bench.css';

/** The bench of Sound check: trial clips one after another, so that one sees it getting better. */
export function SoundCheckBench() {
  const view = useView();
  const { trials } = view;
  const [chosenId, setChosenId] = useState<string | null>(null);
  const [newest, setNewest] = useState(trials[0]?.id);
  // A new trial is what one wants to see.
  if (newest !== trials[0]?.id) {
    setNewest(trials[0]?.id);
    setChosenId(null);
  }
  const shown = trials.find((trial) => trial.id === chosenId) ?? trials[0];
  return (
    <div className="sound-check" data-drop-trial="">
      <div className="sound-check-head">
        <h2>Sound check</h2>
        <p className="faint">
          {trials.length === 0
            ? view.steps.soundCheck.sentence
            : 'Try again after each change: the newest trial counts.'}
        </p>
      </div>
      {trials.length === 0 ? <How hasGuide={view.session.guide?.plan != null} /> : null}
      <div className="sound-check-add">
        <Button kind={trials.length === 0 ? 'main' : 'plain'} onClick={() => void chooseClips({ kind: 'trial' })}>
          {trials.length === 0 ? 'Choose a trial clip …' : 'Check another clip …'}
        </Button>
        <CheckTake />
        <span className="small faint">Or drop it here. It becomes no take unless you say so.</span>
      </div>
      <Jobs />
      {shown !== undefined && <TrialSheet key={shown.id} trial={shown} />}
      {trials.length > 1 && <TrialTable trials={trials} shownId={shown?.id} onShow={setChosenId} />}
    </div>
  );
}

function How({ hasGuide }: { readonly hasGuide: boolean }) {
  return (
    <ol className="sound-check-how">
      <li>Set the phone where it will stand, and start its recording.</li>
      <li>
        {hasGuide
          ? 'Start the guide in your headphones: stay still in its silence, and clap on its cue.'
          : 'Stay still for three to five seconds, then clap once, sharply.'}
      </li>
      <li>Play the loudest passage of the piece for half a minute, then stop the recording.</li>
      <li>Bring the clip here. Partsong says what to change, the most important first; then try once more.</li>
    </ol>
  );
}

/** Checks a take that is there already. */
function CheckTake() {
  const { session, takes } = useView();
  const all = takesInOrder(session).filter(({ take }) => takes[take.id]?.state === 'ready');
  const [takeId, setTakeId] = useState<string | null>(null);
  if (all.length === 0) return null;
  const chosen = all.find(({ take }) => take.id === takeId) ?? all[0]!;
  return (
    <span className="trial-add">
      <Button onClick={() => void ask((bridge) => bridge.calls.checkTake({ takeId: chosen.take.id }))}>
        Check the take
      </Button>
      <select aria-label="Take to check" value={chosen.take.id} onChange={(event) => setTakeId(event.target.value)}>
        {all.map(({ take, voice }) => (
          <option key={take.id} value={take.id}>
            {voice.name}: {take.name}
          </option>
        ))}
      </select>
    </span>
  );
}

function Jobs() {
  const jobs = useView().jobs.filter((job) => job.kind === 'check');
  return (
    <div role="status" className="sound-check-jobs">
      {jobs.map((job) => (
        <Progress
          key={job.id}
          title={job.title}
          fraction={job.fraction}
          leftSec={job.leftSec}
          onStop={() => void ask((bridge) => bridge.calls.stopJob({ jobId: job.id }))}
        />
      ))}
    </div>
  );
}

interface TrialTableProps {
  readonly trials: readonly TrialView[];
  readonly shownId: string | undefined;
  readonly onShow: (id: string) => void;
}

/** All trials with their main figures, newest first. */
function TrialTable({ trials, shownId, onShow }: TrialTableProps) {
  return (
    <div className="sound-check-table">
      <table>
        <caption>All trials, the newest first</caption>
        <thead>
          <tr>
            <th scope="col">Trial</th>
            <th scope="col">Verdict</th>
            <th scope="col" className="number">
              <Explain word="snr">Above noise</Explain>, dB
            </th>
            <th scope="col" className="number">
              <Explain word="musicLevel">Music</Explain>, dBFS
            </th>
            <th scope="col" className="number">
              <Explain word="noiseLevel">Noise</Explain>, dBFS
            </th>
            <th scope="col" className="number">
              <Explain word="headroom">Headroom</Explain>, dB
            </th>
            <th scope="col">Since the one before</th>
          </tr>
        </thead>
        <tbody>
          {trials.map((trial, at) => (
            <tr key={trial.id} className={trial.id === shownId ? 'sound-check-shown' : ''}>
              <th scope="row">
                <Button
                  small
                  kind="quiet"
                  aria-pressed={trial.id === shownId}
                  aria-label={`Show the trial ${trial.name}`}
                  onClick={() => onShow(trial.id)}
                >
                  {trial.name}
                </Button>
              </th>
              <td>
                <span className="sound-check-verdict">
                  <StateSign state={trialState(trial)} />
                  {trial.check?.verdict.split(/[:,]/)[0] ??
                    (trial.state === 'working' ? 'being checked' : 'unreadable')}
                </span>
              </td>
              <td className="number">{figure(trial.check?.figures.snrDb, 0)}</td>
              <td className="number">{figure(trial.check?.figures.musicDbfs)}</td>
              <td className="number">{figure(trial.check?.figures.noiseDbfs)}</td>
              <td className="number">{figure(trial.check === null ? null : headroomDb(trial.check))}</td>
              <td className="small faint">
                {trial.check === null ? '' : sinceBefore(trial.check, trials[at + 1]?.check ?? null)}
              </td>
            </tr>
          ))}
        </tbody>
      </table>
    </div>
  );
}
