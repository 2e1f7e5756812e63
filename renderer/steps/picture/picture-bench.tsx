import { useCallback, useEffect, useMemo, useRef, useState } from 'react';
import { ask, useView } from '../../desk/desk-store.ts';
import { addShortcuts } from '../../help/shortcuts.ts';
import { Note } from '../../parts/note.tsx';
import { useShownWhenNew } from '../../parts/shown-when-new.ts';
import { useWidth } from '../drawing/use-width.ts';
import { CanvasPart } from './canvas-part.tsx';
import { CanvasStage } from './canvas-stage.tsx';
import { GatherPart } from './gather-part.tsx';
import { MadePicture } from './made-picture.tsx';
import { MakePart } from './make-part.tsx';
import { MomentsPart } from './moments-part.tsx';
import { pictureModel } from './picture-model.ts';
import { TilePart } from './tile-part.tsx';
import { TilingPart } from './tiling-part.tsx';
import { TitlePart } from './title-part.tsx';
import './picture-bench.css';

/** Below this the settings lie under the canvas, px; else the canvas has this share of the width at most. */
const NARROW = 620;
const SHARE = 0.6;

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
  useEffect(
    () =>
      addShortcuts('On a tile of the picture', [
        { keys: 'arrowleft', words: 'Move it (all arrows)', run: null },
        { keys: 'shift+arrowleft', words: 'Change places with the tile there (all arrows)', run: null },
        { keys: 'mod+arrowleft', words: 'Make it larger or smaller (all arrows)', run: null },
        { keys: 'escape', words: 'Let go of a drag, nothing changed', run: null },
      ]),
    [],
  );
  const onCannotPlay = useCallback((takeId: string): void => {
    if (cannotPlay.current.has(takeId)) return;
    cannotPlay.current.add(takeId);
    void ask((bridge) => bridge.calls.preparePictures({ cannotPlay: [...cannotPlay.current] }));
  }, []);
  const made = useShownWhenNew(view.madePicture?.tookSec ?? null);
  const [columns, width] = useWidth<HTMLDivElement>(900);
  const isNarrow = width < NARROW;
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
      {model.plan === null && !isFilmed ? (
        <Note kind="plain">{model.blocked ?? 'No clip was filmed, so there is no video to make.'}</Note>
      ) : (
        <div className={`picture-columns${isNarrow ? ' picture-columns-narrow' : ''}`} ref={columns}>
          <div className="picture-main">
            <CanvasStage model={model} mostWidth={isNarrow ? width : SHARE * width} onCannotPlay={onCannotPlay} />
          </div>
          <div className="picture-settings">
            <TilePart model={model} />
            <MomentsPart model={model} />
            <CanvasPart model={model} />
            <TilingPart model={model} />
            <TitlePart model={model} />
            <MakePart model={model} />
            <GatherPart />
          </div>
        </div>
      )}
      {view.madePicture !== null && (
        <div ref={made}>
          <MadePicture made={view.madePicture} />
        </div>
      )}
    </div>
  );
}
