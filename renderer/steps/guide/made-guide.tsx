import type { MadeGuideView } from '../../../app/shell/contract/guide-view.ts';
import { ask, theBridge } from '../../desk/desk-store.ts';
import { Button } from '../../parts/button.tsx';
import { Note } from '../../parts/note.tsx';
import { clock } from '../../parts/numbers.ts';
import { sizeWords } from '../render/render-plan.ts';

/** The guide that was made last: its files, the plan to print, and whether the session uses it. */
export function MadeGuide({ made }: { readonly made: MadeGuideView }) {
  const plan = made.files.find((file) => file.what === 'plan');
  const all = made.files.filter((file) => file.what !== 'plan' && file.voice === null);
  const own = made.files.filter((file) => file.what !== 'plan' && file.voice !== null);
  return (
    <section className="guide-made" aria-labelledby="guide-made">
      <div className="guide-made-head">
        <h3 id="guide-made">{made.inUse ? 'Your guide is made, and in use' : 'Your last guide'}</h3>
        <span className="faint small">
          {made.title}, {clock(made.lengthSec, 0)}, {made.bars} bars
        </span>
      </div>
      {!made.inUse && (
        <Note kind="look" title="The session does not use it.">
          Redo what you took back, or make it anew, to have its bars, silence and clap in the session.
        </Note>
      )}
      <div className="guide-made-columns">
        <div>
          <h4>For all voices</h4>
          <ul>
            {all.map((file) => (
              <FileLine key={file.path} file={file} />
            ))}
          </ul>
        </div>
        {own.length > 0 && (
          <div>
            <h4>For one voice each</h4>
            <ul>
              {own.map((file) => (
                <FileLine key={file.path} file={file} />
              ))}
            </ul>
          </div>
        )}
        <div>
          <h4>To print</h4>
          {plan !== undefined && (
            <>
              <ul>
                <FileLine file={plan} />
              </ul>
              <p className="small faint">
                One page to lay beside the phone: where it stands, what you hear when, and in which order to record the
                voices.
              </p>
            </>
          )}
        </div>
      </div>
      <p className="small faint path">All of it is in {made.folder}</p>
      {made.notes.length > 0 && (
        <details className="small">
          <summary>{made.notes.length === 1 ? 'One remark' : `${made.notes.length} remarks`} on the score</summary>
          <ul className="guide-remarks">
            {made.notes.map((note) => (
              <li key={note}>{note}</li>
            ))}
          </ul>
        </details>
      )}
    </section>
  );
}

function FileLine({ file }: { readonly file: MadeGuideView['files'][number] }) {
  const name = file.path.split(/[/\\]/).at(-1) ?? file.path;
  return (
    <li className="guide-file">
      <span className="path">{file.what === 'plan' ? 'Recording plan' : name}</span>
      <span className="faint small nowrap">{sizeWords(file.sizeBytes)}</span>
      {theBridge().door === 'window' ? (
        <Button
          small
          aria-label={`Show ${name} in its folder`}
          onClick={() => void ask((bridge) => bridge.calls.reveal({ path: file.path }))}
        >
          Show
        </Button>
      ) : file.what === 'plan' ? (
        <a
          className="button button-plain button-small"
          href={theBridge().mediaUrl(`guide/${encodeURIComponent(name)}`)}
          target="_blank"
          rel="noreferrer"
        >
          Open to print<span className="unseen"> the recording plan</span>
        </a>
      ) : (
        <a
          className="button button-plain button-small"
          href={theBridge().mediaUrl(`guide/${encodeURIComponent(name)}`)}
          download={name}
        >
          Download<span className="unseen"> {name}</span>
        </a>
      )}
    </li>
  );
}
