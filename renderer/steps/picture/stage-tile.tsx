import { type CSSProperties, type KeyboardEvent, type PointerEvent, useRef } from 'react';
import type { TakePictureView } from '../../../app/shell/contract/picture-view.ts';
import type { Size } from '../../../core/picture/canvas.ts';
import { nameOf } from '../../../core/picture/lay-drawings.ts';
import { largestOf, restingBoxes } from '../../../core/picture/tile-path.ts';
import { useBench } from '../../desk/bench-store.ts';
import { edit } from '../../desk/desk-store.ts';
import { voiceColour } from '../../parts/voice-colours.ts';
import { nextGesture } from '../drawing/gesture.ts';
import { DrawnStill } from './drawn-still.tsx';
import { putTile, swapEdit } from './picture-edits.ts';
import type { PictureModel, PictureTile } from './picture-model.ts';
import { type DragKind, type dragNow, KEY_STEP_PX, movedBy, neighbourOf, resizedBy } from './tile-moves.ts';
import { TileView } from './tile-view.tsx';
import type { KeepVideo } from './use-videos.ts';

type Move = Parameters<typeof dragNow>[5];

export interface StageTileProps {
  /** As it is shown, on its way perhaps. */
  readonly tile: PictureTile;
  /** As the session has it. */
  readonly still: PictureTile;
  readonly model: PictureModel;
  /** px of the screen a px of the canvas. */
  readonly scale: number;
  readonly isInHand: boolean;
  readonly isDragged: boolean;
  readonly willSwap: boolean;
  readonly moves: boolean;
  readonly pictures: Readonly<Record<string, TakePictureView | null | undefined>>;
  /** Its light and colour are changed, see use-tones.tsx. */
  readonly isToned: boolean;
  readonly keep: KeepVideo;
  readonly onDrag: (tile: PictureTile, move: Move, kind: DragKind) => void;
  readonly onDrop: (tile: PictureTile) => void;
  readonly onDragEnd: () => void;
  readonly onCannotPlay: (takeId: string) => void;
}

/** A hand that trembles drags nothing, px of the screen. */
const TREMBLE_PX = 3;

/** A tile on the canvas: taken in hand by a press, moved by dragging or by keys. */
export function StageTile(props: StageTileProps) {
  const { tile, still, model, scale, isInHand, isDragged, willSwap, moves, pictures, keep, onCannotPlay } = props;
  const { picture, tiles } = model;
  const begun = useRef<{ x: number; y: number; kind: DragKind; isOnTheWay: boolean } | null>(null);
  const gesture = useRef(0);
  const { box } = tile;
  const drawnSize = tile.path.steps.length === 0 ? box : largestOf(restingBoxes(tile.path));
  const px = (length: number): string => `${(length * scale).toFixed(2)}px`;
  const style: CSSProperties = {
    left: px(box.xPx),
    top: px(box.yPx),
    width: px(box.widthPx),
    height: px(box.heightPx),
    borderRadius: px(picture.roundingPx),
  };
  const moveOf = (event: PointerEvent): Move => {
    const from = begun.current!;
    const surface = event.currentTarget.closest('.picture-canvas')!.getBoundingClientRect();
    return {
      byX: (event.clientX - from.x) / scale,
      byY: (event.clientY - from.y) / scale,
      atX: (event.clientX - surface.left) / scale,
      atY: (event.clientY - surface.top) / scale,
      scale,
      isFree: event.ctrlKey || event.metaKey,
      keepsShape: event.shiftKey,
    };
  };
  const onKeyDown = (event: KeyboardEvent): void => {
    const step = arrows[event.key];
    if (event.key === 'Escape' && begun.current !== null) {
      begun.current = null;
      props.onDragEnd();
      return;
    }
    if (step === undefined || event.altKey) return;
    event.preventDefault();
    event.stopPropagation();
    const [dx, dy] = step;
    if (event.shiftKey) {
      const other = neighbourOf(still, tiles, dx, dy);
      if (other !== undefined) edit(swapEdit(still, other));
      return;
    }
    const isResize = event.ctrlKey || event.metaKey;
    const next = (isResize ? resizedBy : movedBy)(still.box, model.picture.canvas, dx * KEY_STEP_PX, dy * KEY_STEP_PX);
    putTile(still, next, `tile:${tile.voiceId}:${gesture.current}`);
  };
  return (
    <button
      type="button"
      className={`picture-tile${isInHand ? ' picture-tile-in-hand' : ''}${isDragged ? ' picture-tile-dragged' : ''}${willSwap ? ' picture-tile-swaps' : ''}`}
      style={style}
      aria-pressed={isInHand}
      aria-keyshortcuts="ArrowLeft ArrowRight ArrowUp ArrowDown"
      data-voice={tile.voiceId}
      onFocus={() => {
        gesture.current = nextGesture();
        useBench.setState({ voiceId: tile.voiceId });
      }}
      onPointerDown={(event) => {
        if (event.button !== 0) return;
        event.currentTarget.setPointerCapture(event.pointerId);
        event.currentTarget.focus();
        const onCorner = (event.target as Element).closest('.picture-corner') !== null;
        begun.current = {
          x: event.clientX,
          y: event.clientY,
          kind: onCorner ? 'resize' : 'carry',
          isOnTheWay: false,
        };
      }}
      onPointerMove={(event) => {
        const from = begun.current;
        if (from === null || event.buttons === 0) return;
        from.isOnTheWay ||= Math.hypot(event.clientX - from.x, event.clientY - from.y) > TREMBLE_PX;
        if (from.isOnTheWay) props.onDrag(still, moveOf(event), from.kind);
      }}
      onPointerUp={() => {
        const isDrop = begun.current?.isOnTheWay === true;
        begun.current = null;
        if (isDrop) props.onDrop(still);
      }}
      onPointerCancel={() => {
        begun.current = null;
        props.onDragEnd();
      }}
      onKeyDown={onKeyDown}
    >
      <span className="unseen">{`Tile of ${tile.name}: ${box.widthPx} by ${box.heightPx} px, ${box.xPx} px from the left, ${box.yPx} px from above`}</span>
      <span className="picture-tile-clip" style={{ borderRadius: px(picture.roundingPx) }}>
        <TileView
          tile={tile}
          pictures={pictures}
          isToned={props.isToned}
          keep={keep}
          moves={moves}
          width={drawnSize.widthPx * scale}
          height={drawnSize.heightPx * scale}
          onCannotPlay={onCannotPlay}
        />
      </span>
      {picture.borderPx > 0 && (
        <span
          className="picture-border"
          style={{
            borderRadius: px(picture.roundingPx),
            borderWidth: px(picture.borderPx),
            borderColor: picture.borderColour,
          }}
        />
      )}
      {picture.names && tile.clips.length > 0 && <TileName tile={tile} canvas={picture.canvas} scale={scale} />}
      <span className="picture-mark" style={{ background: voiceColour(tile.colour) }} />
      <span className="picture-corner" title="Larger or smaller" />
    </button>
  );
}

/** The name in its tile, where the video has it. */
function TileName({ tile, canvas, scale }: { tile: PictureTile; canvas: Size; scale: number }) {
  const { box } = tile;
  const { plate, at } = nameOf({ voice: { name: tile.name }, path: { ...tile.path, first: box } }, canvas);
  const [xPx, yPx] = at(box);
  const style = {
    left: (xPx - box.xPx) * scale,
    top: (yPx - box.yPx) * scale,
    width: plate.size.widthPx * scale,
    height: plate.size.heightPx * scale,
  };
  return <DrawnStill drawing={plate} scale={scale} className="picture-name" style={style} />;
}

const arrows: Readonly<Record<string, readonly [number, number]>> = {
  ArrowLeft: [-1, 0],
  ArrowRight: [1, 0],
  ArrowUp: [0, -1],
  ArrowDown: [0, 1],
};
