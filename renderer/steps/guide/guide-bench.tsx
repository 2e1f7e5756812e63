import { useEffect, useMemo } from 'react';
import { useBench } from '../../desk/bench-store.ts';
import { useView } from '../../desk/desk-store.ts';
import { Button } from '../../parts/button.tsx';
import { Note } from '../../parts/note.tsx';
import { useShownWhenNew } from '../../parts/shown-when-new.ts';
import { FramePart } from './frame-part.tsx';
import { beginDraft, useGuideDraft } from './guide-draft.ts';
import { GuideLinePicture } from './guide-line-picture.tsx';
import { plannedGuide } from './guide-words.ts';
import { MadeGuide } from './made-guide.tsx';
import { MakePart } from './make-part.tsx';
import { PiecePart } from './piece-part.tsx';
import { SoundPart } from './sound-part.tsx';
import './guide-bench.css';

/** The bench of Guide: what the player will hear, how it is made, and where it is then. */
export function GuideBench() {
  const view = useView();
  const { choice, score } = useGuideDraft();
  // biome-ignore lint/correctness/useExhaustiveDependencies: another session has another draft.
  useEffect(beginDraft, [view.folder]);
  const made = useShownWhenNew(view.madeGuide?.folder ?? null);
  const planned = useMemo(() => plannedGuide(choice, score), [choice, score]);
  const isOther = view.session.guide !== null && view.madeGuide?.inUse !== true;
  return (
    <div className="guide" data-drop-score="">
      <div className="guide-head">
        <h2>Guide</h2>
        <p className="faint">{view.steps.guide.sentence}</p>
      </div>
      <p className="guide-why">
        You hear the guide in your headphones while you record each voice: it keeps all voices in one time and one
        pitch, and its silence and clap tell Partsong what it needs later. Clips that you have already need none.
      </p>
      <div ref={made} className="guide-made-place">
        {view.madeGuide !== null && <MadeGuide made={view.madeGuide} />}
      </div>
      {isOther && (
        <Note>
          The session uses a guide that was made elsewhere; it is the top line above. What is drawn below is one that
          you could make here. It would take its place, and takes that were recorded to the other one would no longer
          fit; you can undo that.
        </Note>
      )}
      {planned.kind === 'planned' ? <GuideLinePicture plan={planned.plan} /> : <Note kind="wrong">{planned.why}</Note>}
      <div className="guide-columns">
        <PiecePart />
        <FramePart />
        <SoundPart />
      </div>
      <MakePart planned={planned} />
      <p>
        <Button kind="quiet" onClick={() => useBench.setState({ step: 'soundCheck' })}>
          On to the sound check
        </Button>
      </p>
    </div>
  );
}
