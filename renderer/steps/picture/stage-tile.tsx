import type { CSSProperties } from 'react';
import type { TakePictureView } from '../../../app/shell/contract/picture-view.ts';
import type { Size } from '../../../core/picture/canvas.ts';
import { nameOf } from '../../../core/picture/lay-drawings.ts';
import { largestOf, restingBoxes } from '../../../core/picture/tile-path.ts';
import { voiceColour } from '../../parts/voice-colours.ts';
import { DrawnStill } from './drawn-still.tsx';
import type { PictureTile } from './picture-model.ts';
import { TileView } from './tile-view.tsx';
import { type TileByHand, useTileByHand } from './use-tile-by-hand.ts';
import type { KeepVideo } from './use-videos.ts';

export interface StageTileProps extends TileByHand {
  /** As it is shown, on its way perhaps. */
  readonly tile: PictureTile;
  readonly isInHand: boolean;
  readonly isDragged: boolean;
  readonly willSwap: boolean;
  readonly moves: boolean;
  readonly pictures: Readonly<Record<string, TakePictureView | null | undefined>>;
  /** Its light and colour are changed, see use-tones.tsx. */
  readonly isToned: boolean;
  readonly keep: KeepVideo;
  readonly onCannotPlay: (takeId: string) => void;
}

/** A tile on the canvas: taken in hand by a press, moved by dragging or by keys. */
export function StageTile(props: StageTileProps) {
  const { tile, model, scale, isInHand, isDragged, willSwap, moves, pictures, keep, onCannotPlay } = props;
  const { picture } = model;
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
  const byHand = useTileByHand(props);
  return (
    <button
      type="button"
      className={`picture-tile${isInHand ? ' picture-tile-in-hand' : ''}${isDragged ? ' picture-tile-dragged' : ''}${willSwap ? ' picture-tile-swaps' : ''}`}
      style={style}
      aria-pressed={isInHand}
      aria-keyshortcuts="ArrowLeft ArrowRight ArrowUp ArrowDown"
      data-voice={tile.voiceId}
      {...byHand}
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
