import { useState } from 'react';
import { rateInWords } from '../../../core/picture/picture-rate.ts';
import { ask, useView } from '../../desk/desk-store.ts';
import { Button } from '../../parts/button.tsx';
import { Choice } from '../../parts/choice.tsx';
import { Note } from '../../parts/note.tsx';
import { clock } from '../../parts/numbers.ts';
import { Progress } from '../../parts/progress.tsx';
import { sizeWords } from '../render/render-plan.ts';
import { firstMake, keepMake, keptMake, type MakeChoices } from './make-choices.ts';
import type { PictureModel } from './picture-model.ts';

/** What will be made, before a byte is written; and the start of it. */
export function MakePart({ model }: { model: PictureModel }) {
  const view = useView();
  const [choices, setChoices] = useState(keptMake);
  const choose = (change: Partial<MakeChoices>): void => {
    const next = { ...choices, ...change };
    setChoices(next);
    keepMake(next);
  };
  const job = view.jobs.find(({ kind }) => kind === 'picture');
  const { plan, blocked, unseen, hidden, sizeBytes } = model;
  const isMade = view.madePicture?.current === true;
  const isMaster = choices.container === 'mkv';
  return (
    <section className="picture-part" aria-labelledby="picture-make">
      <h3 id="picture-make">What will be made</h3>
      {plan !== null && (
        <ul className="picture-plan">
          <li>
            {isMaster ? 'A master: Matroska, H.264, FLAC' : 'A video to upload: MP4, H.264, AAC 320 kbit/s'},{' '}
            {plan.canvas.widthPx} × {plan.canvas.heightPx} px, {rateInWords(plan.rate)}
            <span className="faint small">
              {' '}
              {clock(plan.lengthSec)}, {plan.pictures} pictures, {isMaster ? '' : 'up to '}about{' '}
              {sizeWords(sizeBytes * (isMaster ? 4 : 1))}
            </span>
          </li>
          <li>Its sound is the mix, at {String(view.session.mix.targetLufs).replace('-', '−')} LUFS, as in Render</li>
          {choices.cover && <li>A still for the cover: JPEG</li>}
        </ul>
      )}
      <p className="small faint path">In {videoFolder(view.folder)}</p>
      {(unseen.length > 0 || hidden.length > 0) && (
        <Note kind="look" title="Left out:">
          <ul>
            {unseen.map(({ voiceId, name, why }) => (
              <li key={voiceId}>
                <strong>{name}</strong>: {why}.
              </li>
            ))}
            {hidden.map(({ voiceId, name }) => (
              <li key={voiceId}>
                <strong>{name}</strong>: heard, but hidden.
              </li>
            ))}
          </ul>
        </Note>
      )}
      {plan !== null && plan.notes.length > 0 && (
        <details className="picture-notes" open={plan.notes.length <= 3}>
          <summary>{plan.notes.length === 1 ? 'One thing to know' : `${plan.notes.length} things to know`}</summary>
          <ul className="small">
            {plan.notes.map((note) => (
              <li key={note}>{note}</li>
            ))}
          </ul>
        </details>
      )}
      <Choice
        label="The file"
        value={choices.container}
        options={[
          { value: 'mp4', label: 'to upload' },
          { value: 'mkv', label: 'a master' },
        ]}
        onChange={(container) => choose({ container })}
      />
      <Choice
        label="Time spent on it"
        value={choices.speed}
        options={[
          { value: 'quick', label: 'little' },
          { value: 'usual', label: 'usual' },
          { value: 'careful', label: 'much' },
        ]}
        onChange={(speed) => choose({ speed })}
      />
      <label className="tick">
        <input type="checkbox" checked={choices.cover} onChange={(event) => choose({ cover: event.target.checked })} />
        <span>A still for the cover</span>
      </label>
      <div role="status" className="render-progress">
        {job !== undefined && (
          <Progress
            title={job.title}
            fraction={job.fraction}
            leftSec={job.leftSec}
            onStop={() => void ask((bridge) => bridge.calls.stopJob({ jobId: job.id }))}
          />
        )}
      </div>
      {job === undefined && (
        <div className="picture-row">
          <Button
            kind={isMade ? 'plain' : 'main'}
            disabled={blocked !== null}
            onClick={() => void ask((bridge) => bridge.calls.renderPicture({ folder: null, ...firstMake, ...choices }))}
          >
            {isMade ? 'Render the video again' : 'Render the video'}
          </Button>
          {blocked !== null && <span className="small">{blocked}</span>}
        </div>
      )}
      <p className="small faint">
        To publish a piece you need the rights to its music, unless it is free of them, and everyone who is seen should
        agree; the rules where you live decide.
      </p>
    </section>
  );
}

/** Where videos go, written as the system of the session's folder writes paths. */
function videoFolder(sessionFolder: string): string {
  return `${sessionFolder}${sessionFolder.includes('\\') ? '\\' : '/'}videos`;
}
