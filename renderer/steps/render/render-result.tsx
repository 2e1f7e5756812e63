import { useEffect, useRef, useState } from 'react';
import type { RenderView } from '../../../app/shell/contract/desk-view.ts';
import { ask, theBridge } from '../../desk/desk-store.ts';
import { Button } from '../../parts/button.tsx';
import { Explain } from '../../parts/explain.tsx';
import { Figure } from '../../parts/figure.tsx';
import { Note } from '../../parts/note.tsx';
import { clock } from '../../parts/numbers.ts';
import { LoudnessCurve } from './loudness-curve.tsx';
import { sizeWords } from './render-plan.ts';
import { resultSentence, stemPeakWords } from './result-words.ts';

/** What a file is, in words. */
function whatOf(file: RenderView['files'][number]): string {
  return file.path.endsWith('.json') ? 'Report as data' : whatWords[file.what];
}

const whatWords = { mix: 'The mix', copy: 'Copy for upload', stem: 'Stem', report: 'Report' } as const;

/** The newest render: where it is, how it can be heard, and how loud it came out. */
export function RenderResult({ render }: { render: RenderView }) {
  const stems = render.files.filter((file) => file.what === 'stem');
  const others = render.files.filter((file) => file.what !== 'stem');
  const mix = render.files.find((file) => file.what === 'mix');
  return (
    <section className="render-result" aria-labelledby="render-result">
      <h3 id="render-result">{render.current ? 'Your mix is ready' : 'Your last mix'}</h3>
      {!render.current && (
        <Note kind="look" title="It is out of date.">
          This mix is from before your last changes, or made by an older Partsong. Render again to have it as it is now.
        </Note>
      )}
      <div className="render-result-columns">
        <div className="render-files">
          {mix !== undefined && <Listen path={mix.path} />}
          <ul>
            {others.map((file) => (
              <FileLine key={file.path} file={file} />
            ))}
          </ul>
          {stems.length > 0 && (
            <details>
              <summary>{stems.length === 1 ? '1 stem' : `${stems.length} stems`}</summary>
              <ul>
                {stems.map((file) => (
                  <FileLine key={file.path} file={file} />
                ))}
              </ul>
            </details>
          )}
          <Where folder={render.folder} />
        </div>
        <div className="render-measured">
          <p>{resultSentence(render)}</p>
          <Measures render={render} />
          <LoudnessCurve render={render} />
        </div>
      </div>
      {render.notes.map((note) => (
        <p key={note} className="small faint">
          {note}
        </p>
      ))}
    </section>
  );
}

function Measures({ render }: { render: RenderView }) {
  return (
    <dl className="render-measures">
      <div>
        <dt>
          <Explain word="integrated">Loudness</Explain>
        </dt>
        <dd>
          <Figure value={render.integratedLufs} unit="LUFS" word="lufs" />
        </dd>
      </div>
      <div>
        <dt>
          <Explain word="truePeak">True peak</Explain>
        </dt>
        <dd>
          <Figure value={render.truePeakDbtp} unit="dBTP" word="dbtp" />
        </dd>
      </div>
      <div>
        <dt>
          <Explain word="range">Range</Explain>
        </dt>
        <dd>
          <Figure value={render.rangeLu} unit="LU" word="lu" />
        </dd>
      </div>
      <div>
        <dt>
          <Explain word="limiter">Limiter at most</Explain>
        </dt>
        <dd>
          <Figure value={render.limiterMaxDb} unit="dB" word="db" />
        </dd>
      </div>
      <div>
        <dt>Length</dt>
        <dd>{clock(render.lengthSec)}</dd>
      </div>
    </dl>
  );
}

/** How loud a file plays at first, linear: low, as all sound of the page begins. */
const FIRST_VOLUME = 0.25;

function Listen({ path }: { path: string }) {
  const player = useRef<HTMLAudioElement>(null);
  useEffect(() => {
    if (player.current !== null) player.current.volume = FIRST_VOLUME;
  }, []);
  return (
    <div>
      {/* biome-ignore lint/a11y/useMediaCaption: it is music */}
      <audio
        ref={player}
        controls
        preload="metadata"
        src={mediaOf(path)}
        className="render-audio"
        aria-label="The mix as it was rendered"
      />
      <p className="small faint">It starts low. Put your headphones on after it plays, then raise the level.</p>
    </div>
  );
}

function FileLine({ file }: { file: RenderView['files'][number] }) {
  const name = nameOf(file.path);
  return (
    <li className="render-file">
      <span className="render-file-what faint small">{whatOf(file)}</span>
      <span className="render-file-name">
        <span className="path">{name}</span>
        {file.truePeakDbtp !== undefined && <span className="faint small">{stemPeakWords(file.truePeakDbtp)}</span>}
      </span>
      <span className="faint small nowrap">{sizeWords(file.sizeBytes)}</span>
      {theBridge().door === 'window' ? (
        <Button
          small
          aria-label={`Show ${name} in its folder`}
          onClick={() => void ask((bridge) => bridge.calls.reveal({ path: file.path }))}
        >
          Show
        </Button>
      ) : (
        <a className="button button-plain button-small" href={mediaOf(file.path)} download={name}>
          Download<span className="unseen"> {name}</span>
        </a>
      )}
    </li>
  );
}

function Where({ folder }: { folder: string }) {
  const [copied, setCopied] = useState(false);
  const copy = (): void => {
    navigator.clipboard.writeText(folder).then(
      () => setCopied(true),
      () => setCopied(false),
    );
  };
  return (
    <div className="render-where">
      <label className="small faint" htmlFor="render-where">
        All of it is in
      </label>
      <input id="render-where" type="text" readOnly value={folder} onFocus={(event) => event.target.select()} />
      <Button small onClick={copy}>
        Copy path
      </Button>
      <span role="status" className="small faint">
        {copied && 'Copied'}
      </span>
    </div>
  );
}

function nameOf(path: string): string {
  return path.split(/[/\\]/).at(-1) ?? path;
}

function mediaOf(path: string): string {
  return theBridge().mediaUrl(`render/${encodeURIComponent(nameOf(path))}`);
}
