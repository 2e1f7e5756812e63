import { type CSSProperties, useMemo, useRef, useState } from 'react';
import type { Box } from '../../../core/picture/canvas.ts';
import { titleCard } from '../../../core/picture/drawings.ts';
import { safeBox } from '../../../core/picture/picture-design.ts';
import { useBench } from '../../desk/bench-store.ts';
import { edit, useView } from '../../desk/desk-store.ts';
import { DrawnStill } from './drawn-still.tsx';
import { putTile, swapEdit } from './picture-edits.ts';
import { inOrder, type PictureModel, type PictureTile } from './picture-model.ts';
import { StageTile } from './stage-tile.tsx';
import { type DragKind, type DragMove, type DragNow, dragNow } from './tile-moves.ts';
import { useBenchHeight } from './use-bench-height.ts';
import { useStagePaint } from './use-stage-paint.ts';
import { ToneFilters, useTones } from './use-tones.tsx';
import { movingTiles, playableCount } from './video-sync.ts';

/** The canvas is as high as the bench lets it be, within bounds, px; the rest is left to what stands around it. */
const AROUND_HEIGHT = 64;
const LEAST_HEIGHT = 180;
/** What stands below it needs so much, px. */
const LEAST_WIDTH = 280;
const MOST_HEIGHT = 760;

interface CanvasStageProps {
  /** As wide as it may be, px. */
  readonly mostWidth: number;
  readonly model: PictureModel;
  readonly onCannotPlay: (takeId: string) => void;
}

/** The canvas to scale, with its tiles in step with the player: dragged, drawn larger, changed for one another. */
export function CanvasStage({ model, mostWidth, onCannotPlay }: CanvasStageProps) {
  const { picture, tiles } = model;
  const { canvas } = picture;
  const room = useRef<HTMLDivElement>(null);
  const mostHeight = Math.max(LEAST_HEIGHT, Math.min(MOST_HEIGHT, useBenchHeight(room) - AROUND_HEIGHT));
  const scale = Math.min(mostWidth / canvas.widthPx, mostHeight / canvas.heightPx);
  const inHand = useBench((state) => state.voiceId);
  const [drag, setDrag] = useState<(DragNow & { readonly voiceId: string }) | null>(null);
  const tones = useTones(picture.matched);
  const takes = useView().takes;
  const pictures = useMemo(
    () => Object.fromEntries(Object.entries(takes).map(([id, facts]) => [id, facts.picture])),
    [takes],
  );
  const { surface, isMoment, keep } = useStagePaint(model, scale, drag?.voiceId ?? null);
  const most = playableCount(navigator.hardwareConcurrency);
  const moving = useMemo(() => movingTiles(tiles, most, inHand), [tiles, most, inHand]);
  const filmed = tiles.filter(({ clips }) => clips.length > 0).length;

  const onDrag = (tile: PictureTile, move: DragMove, kind: DragKind): void => {
    // What is dragged is where a tile lies otherwise: not where it is seen for this while.
    if (isMoment) return;
    setDrag({ voiceId: tile.voiceId, ...dragNow(kind, tile, tiles, canvas, picture.tiling.gapPx, move) });
  };
  const onDrop = (tile: PictureTile): void => {
    if (drag === null) return;
    setDrag(null);
    if (drag.swapsWith !== null) edit(swapEdit(tile, drag.swapsWith));
    else putTile(tile, drag.snapped.box);
  };
  const safe = safeBox(canvas);
  const px = (length: number): string => `${(length * scale).toFixed(2)}px`;
  const boxStyle = (box: { xPx: number; yPx: number; widthPx: number; heightPx: number }): CSSProperties => ({
    left: px(box.xPx),
    top: px(box.yPx),
    width: px(box.widthPx),
    height: px(box.heightPx),
  });
  return (
    <div className="picture-stage" ref={room} style={{ width: Math.max(LEAST_WIDTH, canvas.widthPx * scale) }}>
      {/* biome-ignore lint/a11y/useSemanticElements: a drawing cannot be a fieldset */}
      <div
        ref={surface}
        className="picture-canvas"
        role="group"
        aria-label={`Canvas, ${canvas.widthPx} by ${canvas.heightPx} px, ${tiles.length} tiles`}
        style={{ width: px(canvas.widthPx), height: px(canvas.heightPx), background: picture.background }}
      >
        <ToneFilters tones={tones} />
        {inOrder(tiles).map((tile) => (
          <StageTile
            key={tile.voiceId}
            tile={drag?.voiceId === tile.voiceId ? { ...tile, box: drag.snapped.box } : tile}
            still={tile}
            model={model}
            scale={scale}
            isInHand={inHand === tile.voiceId}
            isDragged={drag?.voiceId === tile.voiceId}
            willSwap={drag?.swapsWith?.voiceId === tile.voiceId}
            moves={moving.has(tile.voiceId)}
            pictures={pictures}
            isToned={tones[tile.voiceId] != null}
            keep={keep}
            onDrag={onDrag}
            onDrop={onDrop}
            onDragEnd={() => setDrag(null)}
            onCannotPlay={onCannotPlay}
          />
        ))}
        {(picture.names || picture.title !== null) && (
          <span className="picture-safe" style={boxStyle(safe)} aria-hidden="true" />
        )}
        {picture.title !== null && <TitleCard title={picture.title} safe={safe} scale={scale} />}
        {drag?.snapped.lines.map((line) => (
          <span
            key={`${line.axis}${line.atPx}`}
            className={`picture-snap picture-snap-${line.axis}`}
            style={line.axis === 'x' ? { left: px(line.atPx) } : { top: px(line.atPx) }}
            aria-hidden="true"
          />
        ))}
        <span className="picture-black" aria-hidden="true" />
      </div>
      <StageHints isMoment={isMoment} moving={moving.size} filmed={filmed} />
    </div>
  );
}

/** The title's card in the middle of the safe part, as the video has it. */
function TitleCard({ title, safe, scale }: { title: { text: string; subtitle: string }; safe: Box; scale: number }) {
  const card = titleCard(title.text, title.subtitle, safe);
  const { widthPx, heightPx } = card.size;
  const style = {
    left: (safe.xPx + (safe.widthPx - widthPx) / 2) * scale,
    top: (safe.yPx + (safe.heightPx - heightPx) / 2) * scale,
    width: widthPx * scale,
    height: heightPx * scale,
  };
  return <DrawnStill drawing={card} scale={scale} className="picture-title" style={style} />;
}

interface StageHintsProps {
  readonly isMoment: boolean;
  /** Clips that move while it plays, of so many filmed ones. */
  readonly moving: number;
  readonly filmed: number;
}

/** What can be done on the canvas, and how what it shows differs from the video. */
function StageHints({ isMoment, moving, filmed }: StageHintsProps) {
  return (
    <>
      <p className="small faint picture-hint">
        Drag a tile: let go in the middle of another one, the two change places; the lower right corner makes it larger.
        Ctrl while dragging: no snapping. Keys on a tile: arrows move it, Shift and an arrow changes places, Ctrl and an
        arrow makes it larger or smaller.
      </p>
      {isMoment && (
        <p className="small" role="status">
          For this moment the tiles lie otherwise; they can be dragged where none is large.
        </p>
      )}
      {filmed > moving && (
        <p className="small faint">
          {moving} of {filmed} clips move here while it plays, as many as this computer can be expected to show; the
          others stand still until it pauses. In the video all of them move.
        </p>
      )}
    </>
  );
}
