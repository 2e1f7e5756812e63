import { useCallback, useEffect, useMemo, useRef, useState } from 'react';
import { ask, useView } from '../../desk/desk-store.ts';
import { Note } from '../../parts/note.tsx';
import { CanvasPart, TilingPart } from './canvas-part.tsx';
import { CanvasStage } from './canvas-stage.tsx';
import { MadePicture } from './made-picture.tsx';
import { MakePart } from './make-part.tsx';
import { pictureModel } from './picture-model.ts';
import { TilePart } from './tile-part.tsx';
import { TitlePart } from './title-part.tsx';
import './picture-bench.css';

/** The bench of Picture: the canvas in step with the sound, how it is laid out, what will be made, and what was made. */
export function PictureBench() {
  const view = useView();
  const [filters, setFilters] = useState<readonly string[] | null>(null);
  const { session, blend, takes } = view;
  // biome-ignore lint/correctness/useExhaustiveDependencies: what else a view holds (jobs on their way) says nothing of it
  const model = useMemo(() => pictureModel(view, filters), [session, blend, takes, filters]);
  const cannotPlay = useRef(new Set<string>());
  useEffect(() => {
    let isHere = true;
    void ask((bridge) => bridge.calls.preparePictures({ cannotPlay: [] })).then(
      (answer) => isHere && answer != null && setFilters(answer.filters),
    );
    return () => {
      isHere = false;
    };
  }, []);
  const onCannotPlay = useCallback((takeId: string): void => {
    if (cannotPlay.current.has(takeId)) return;
    cannotPlay.current.add(takeId);
    void ask((bridge) => bridge.calls.preparePictures({ cannotPlay: [...cannotPlay.current] }));
  }, []);
  const isFilmed = model.tiles.some(({ clips }) => clips.length > 0);
  return (
    <div className="picture">
      <div className="picture-head">
        <h2>Picture</h2>
        <p className="faint">{view.steps.picture.sentence}</p>
      </div>
      <p className="unseen" role="status">
        {view.madePicture?.current === true && 'Your video is ready.'}
      </p>
      {view.madePicture !== null && <MadePicture made={view.madePicture} />}
      {model.plan === null && !isFilmed ? (
        <Note kind="plain">{model.blocked ?? 'No clip was filmed, so there is no video to make.'}</Note>
      ) : (
        <div className="picture-columns">
          <div className="picture-main">
            <CanvasStage model={model} onCannotPlay={onCannotPlay} />
          </div>
          <div className="picture-settings">
            <TilePart model={model} />
            <CanvasPart model={model} />
            <TilingPart model={model} />
            <TitlePart model={model} />
            <MakePart model={model} />
          </div>
        </div>
      )}
    </div>
  );
}
