import type { MadeGuideView } from '../../../app/shell/contract/guide-view.ts';
import { ask, theBridge } from '../../desk/desk-store.ts';
import { Button } from '../../parts/button.tsx';
import { Note } from '../../parts/note.tsx';
import { clock } from '../../parts/numbers.ts';
import { sizeWords } from '../render/render-plan.ts';

/** The guide that was made last: its files, the plan to print, and whether the session uses it. */
export function MadeGuide({ made }: { readonly made: MadeGuideView }) {
  const plan = made.files.find((file) => file.what === 'plan');
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
      <ul className="guide-files">
        {versionsOf(made).map(({ voice, files }) => (
          <li key={voice ?? ''} className="guide-file">
            <span className="guide-file-voice">{voice ?? 'For all voices'}</span>
            <span className="guide-file-forms">
              {files.map((file) => (
                <FileLink key={file.path} file={file} />
              ))}
            </span>
          </li>
        ))}
        {plan !== undefined && (
          <li className="guide-file">
            <span className="guide-file-voice">Recording plan</span>
            <span className="guide-file-forms">
              <FileLink file={plan} />
              <span className="small faint">
                One page to print and lay beside the phone: what you hear when, and in which order to record.
              </span>
            </span>
          </li>
        )}
      </ul>
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

type MadeFile = MadeGuideView['files'][number];

/** Sounds and films by whose they are, all voices' first. */
function versionsOf({ files }: MadeGuideView): { voice: string | null; files: MadeFile[] }[] {
  const versions: { voice: string | null; files: MadeFile[] }[] = [];
  for (const file of files) {
    if (file.what === 'plan') continue;
    const known = versions.find(({ voice }) => voice === file.voice);
    if (known === undefined) versions.push({ voice: file.voice, files: [file] });
    else known.files.push(file);
  }
  return versions;
}

/** A file, shown in its folder by the window, handed out by the browser. */
function FileLink({ file }: { readonly file: MadeFile }) {
  const name = file.path.split(/[/\\]/).at(-1) ?? file.path;
  const form = name.slice(name.lastIndexOf('.') + 1).toUpperCase();
  const isPlan = file.what === 'plan';
  if (theBridge().door === 'window') {
    return (
      <Button
        small
        aria-label={`Show ${name} in its folder`}
        onClick={() => void ask((bridge) => bridge.calls.reveal({ path: file.path }))}
      >
        {isPlan ? 'Show' : form} <span className="faint">{sizeWords(file.sizeBytes)}</span>
      </Button>
    );
  }
  const href = theBridge().mediaUrl(`guide/${encodeURIComponent(name)}`);
  return (
    <a
      className="button button-plain button-small"
      href={href}
      {...(isPlan ? { target: '_blank', rel: 'noreferrer' } : { download: name, title: `Download ${name}` })}
    >
      <span>
        {isPlan ? 'Open to print' : form}
        <span className="unseen">{isPlan ? ', in a page of its own' : `: download ${name}`}</span>
      </span>
      <span className="faint">{sizeWords(file.sizeBytes)}</span>
    </a>
  );
}
