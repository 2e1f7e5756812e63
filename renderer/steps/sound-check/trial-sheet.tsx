import { useState } from 'react';
import type { TrialView } from '../../../app/shell/contract/guide-view.ts';
import type { SoundCheck } from '../../../core/guide/sound-check.ts';
import { ask, tell, theBridge, useView } from '../../desk/desk-store.ts';
import { Button } from '../../parts/button.tsx';
import { Explain } from '../../parts/explain.tsx';
import { FaultBox } from '../../parts/fault-box.tsx';
import { Figure } from '../../parts/figure.tsx';
import { clock } from '../../parts/numbers.ts';
import { StateSign } from '../../parts/state-sign.tsx';
import { SoftAudio } from '../drawing/soft-audio.tsx';
import { headroomDb, trialState, weightSigns, weightWords } from './check-words.ts';
import { LevelPicture } from './level-picture.tsx';

/** One trial in full: verdict, what to change, levels, figures; and what can be done with it. */
export function TrialSheet({ trial }: { readonly trial: TrialView }) {
  const { check, fault, name, lengthSec, notes } = trial;
  return (
    <article className="trial" aria-labelledby={`trial-${trial.id}`}>
      <div className="trial-head">
        <h3 id={`trial-${trial.id}`}>{name}</h3>
        <span className="faint small">
          {trial.takeId === null ? 'a trial' : 'a take of the session'}
          {lengthSec !== null && `, ${clock(lengthSec)}`}
        </span>
      </div>
      {trial.state === 'working' && (
        <p role="status" className="faint">
          It is listened to; that takes a few seconds.
        </p>
      )}
      {fault !== null && <FaultBox fault={fault} />}
      {check !== null && <Judged trial={trial} check={check} />}
      {notes.length > 0 && (
        <ul className="small faint trial-notes">
          {notes.map((note) => (
            <li key={note}>{note}</li>
          ))}
        </ul>
      )}
      {trial.state === 'checked' && <Doing trial={trial} />}
    </article>
  );
}

function Judged({ trial, check }: { readonly trial: TrialView; readonly check: SoundCheck }) {
  return (
    <>
      <p className="trial-verdict" role="status">
        <StateSign state={trialState(trial)} />
        {check.verdict}
      </p>
      <div className="trial-columns">
        <div className="trial-findings">
          {check.findings.length === 0 ? (
            <p className="faint">Nothing was found that you would have to change.</p>
          ) : (
            <ol>
              {check.findings.map(({ code, weight, what, change }) => (
                <li key={code} className={`trial-finding trial-finding-${weight}`}>
                  <StateSign state={weightSigns[weight]} />
                  <div>
                    <span className="trial-weight">{weightWords[weight]}</span>
                    <p className="trial-what">{what}</p>
                    <p>{change}</p>
                  </div>
                </li>
              ))}
            </ol>
          )}
        </div>
        <div className="trial-measured">
          <LevelPicture check={check} />
          <Figures check={check} guideFound={trial.guideFound} />
        </div>
      </div>
    </>
  );
}

function Figures({ check, guideFound }: { readonly check: SoundCheck; readonly guideFound: boolean | null }) {
  const { figures } = check;
  return (
    <dl className="trial-figures">
      <div>
        <dt>
          <Explain word="snr">Music above noise</Explain>
        </dt>
        <dd>
          <Figure value={figures.snrDb} unit="dB" word="db" digits={0} />
        </dd>
      </div>
      <div>
        <dt>
          <Explain word="musicLevel">Music</Explain>
        </dt>
        <dd>
          <Figure value={figures.musicDbfs} unit="dBFS" word="dbfs" />
        </dd>
      </div>
      <div>
        <dt>
          <Explain word="loudestPassage">Loudest passage</Explain>
        </dt>
        <dd>
          <Figure value={figures.loudestDbfs} unit="dBFS" />
        </dd>
      </div>
      <div>
        <dt>
          <Explain word="headroom">Headroom</Explain>
        </dt>
        <dd>
          <Figure value={headroomDb(check)} unit="dB" />
        </dd>
      </div>
      <div>
        <dt>
          <Explain word="noiseLevel">Noise of the room</Explain>
        </dt>
        <dd>
          <Figure value={figures.noiseDbfs} unit="dBFS" />
        </dd>
      </div>
      <div>
        <dt>
          <Explain word="hum">Hum</Explain>
        </dt>
        <dd>{figures.humHz === null ? 'none' : <Figure value={figures.humHz} unit="Hz" />}</dd>
      </div>
      <div>
        <dt>
          <Explain word="silence">Silence</Explain>
        </dt>
        <dd>{figures.silenceSec === null ? 'none' : <Figure value={figures.silenceSec} unit="s" />}</dd>
      </div>
      <div>
        <dt>
          <Explain word="clap">Clap</Explain>
        </dt>
        <dd>{figures.clapSec === null ? 'none' : `at ${clock(figures.clapSec)}`}</dd>
      </div>
      <div>
        <dt>
          <Explain word="roomEcho">Echo of the room</Explain>
        </dt>
        <dd>{figures.echoSec === null ? 'not measured' : <Figure value={figures.echoSec} unit="s" />}</dd>
      </div>
      {guideFound !== null && (
        <div>
          <dt>
            <Explain word="bleed">Guide from the headphones</Explain>
          </dt>
          <dd>
            {!guideFound ? (
              'not found'
            ) : figures.bleedDbfs === null ? (
              'not heard'
            ) : (
              <Figure value={figures.bleedDbfs} unit="dBFS" />
            )}
          </dd>
        </div>
      )}
    </dl>
  );
}

/** Hear it, keep it as a take, or put it away. */
function Doing({ trial }: { readonly trial: TrialView }) {
  const { session } = useView();
  const [hears, setHears] = useState(false);
  const isTake = trial.takeId !== null || session.takes.some((take) => isSame(take.clip.path, trial.file));
  return (
    <div className="trial-doing">
      {hears ? (
        <SoftAudio
          src={theBridge().mediaUrl(`trial/${encodeURIComponent(trial.id)}`)}
          name={`The trial ${trial.name}`}
          begins
        />
      ) : (
        <Button onClick={() => setHears(true)}>Listen</Button>
      )}
      {isTake ? <span className="small faint">It is a take of the session.</span> : <AddAsTake trial={trial} />}
      <Button
        kind="quiet"
        onClick={() => void ask((bridge) => bridge.calls.forgetTrial({ trialId: trial.id }))}
        title="The clip itself stays where it is"
      >
        Put away
      </Button>
    </div>
  );
}

const NEW_VOICE = '';

function AddAsTake({ trial }: { readonly trial: TrialView }) {
  const { voices } = useView().session;
  const [voiceId, setVoiceId] = useState<string | null>(null);
  const chosen = voices.some((voice) => voice.id === voiceId) ? (voiceId ?? NEW_VOICE) : (voices[0]?.id ?? NEW_VOICE);
  const wanted = voiceId === NEW_VOICE ? NEW_VOICE : chosen;
  const add = async (): Promise<void> => {
    const voice = wanted === NEW_VOICE ? null : wanted;
    const answer = await ask((bridge) => bridge.calls.addClips({ files: [trial.file], voiceId: voice }));
    for (const fault of answer?.refused ?? []) tell(fault);
  };
  return (
    <span className="trial-add">
      <Button onClick={() => void add()}>Add it as a take of</Button>
      <select aria-label="Voice of the take" value={wanted} onChange={(event) => setVoiceId(event.target.value)}>
        {voices.map(({ id, name }) => (
          <option key={id} value={id}>
            {name}
          </option>
        ))}
        <option value={NEW_VOICE}>a new voice</option>
      </select>
    </span>
  );
}

/** Whether a kept path, relative to the session where it lies in it, is this file. */
function isSame(kept: string, file: string): boolean {
  const plain = file.replaceAll('\\', '/');
  return kept === file || plain.endsWith(`/${kept}`);
}
