import { ask, useView } from '../../desk/desk-store.ts';
import { chooseClips } from '../../frame/pick.ts';
import { Button } from '../../parts/button.tsx';
import { Explain } from '../../parts/explain.tsx';
import { FaultBox } from '../../parts/fault-box.tsx';
import { clock } from '../../parts/numbers.ts';
import { fileName } from './take-words.ts';

/** The guide's clip: which it is, and how to set, change or remove it. */
export function GuideLine() {
  const { session, guide } = useView();
  const clip = session.guide?.clip ?? null;
  return (
    <div className="takes-guide" data-drop-guide="">
      <span className="takes-guide-name">
        <Explain word="guide">Guide</Explain>
      </span>
      {clip === null ? (
        <span className="faint takes-guide-clip">None. The voices are lined up with one another.</span>
      ) : (
        <span className="takes-guide-clip" title={guide?.file ?? clip.path}>
          {fileName(clip.path)} <span className="faint">{guideWords(guide?.state, guide?.lengthSec)}</span>
        </span>
      )}
      <Button small onClick={() => void chooseClips({ kind: 'guide' })}>
        {clip === null ? 'Give the guide …' : 'Change …'}
      </Button>
      {clip !== null && (
        <Button
          small
          kind="quiet"
          aria-label="Remove the guide"
          onClick={() => void ask((bridge) => bridge.calls.setGuide({ file: null }))}
        >
          Remove
        </Button>
      )}
      {guide !== null && guide.fault !== null && <FaultBox fault={guide.fault} />}
    </div>
  );
}

function guideWords(state: string | undefined, lengthSec: number | undefined): string {
  switch (state) {
    case 'ready':
      return clock(lengthSec ?? 0);
    case 'missing':
      return 'missing: choose it again';
    case 'faulty':
      return 'cannot be used';
    default:
      return 'is being read';
  }
}
