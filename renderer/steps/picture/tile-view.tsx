import { type CSSProperties, useEffect, useRef, useState } from 'react';
import type { TakePictureView } from '../../../app/shell/contract/picture-view.ts';
import { theBridge } from '../../desk/desk-store.ts';
import { DrawnTile } from './drawn-tile.tsx';
import { type PictureTile, pictureInBox, type TileClip } from './picture-model.ts';
import { toneFilterId } from './use-tones.tsx';
import type { KeepVideo } from './use-videos.ts';

export interface TileViewProps {
  readonly tile: PictureTile;
  readonly pictures: Readonly<Record<string, TakePictureView | null | undefined>>;
  readonly isToned: boolean;
  readonly keep: KeepVideo;
  /** Moves while it plays. */
  readonly moves: boolean;
  /** Size on the screen, px. */
  readonly width: number;
  readonly height: number;
  readonly onCannotPlay: (takeId: string) => void;
}

/** What is seen in a tile: its clips, one after another, or a drawing. */
export function TileView(props: TileViewProps) {
  const { tile, pictures, keep, moves, width, height, onCannotPlay } = props;
  if (tile.clips.length === 0) return <DrawnTile tile={tile} width={width} height={height} />;
  return tile.clips.map((clip, at) => (
    <ClipView
      key={`${clip.takeId}:${keyOf(at)}`}
      clip={clip}
      isMirrored={tile.choice.mirrored}
      toneId={props.isToned ? toneFilterId(tile.voiceId) : null}
      picture={pictures[clip.takeId] ?? null}
      keep={keep}
      moves={moves}
      onCannotPlay={onCannotPlay}
    />
  ));
}

const keyOf = (at: number): string => `piece-${at}`;

interface ClipViewProps {
  readonly clip: TileClip;
  readonly isMirrored: boolean;
  /** Of the filter that changes its light and colour. */
  readonly toneId: string | null;
  readonly picture: TakePictureView | null;
  readonly keep: KeepVideo;
  readonly moves: boolean;
  readonly onCannotPlay: (takeId: string) => void;
}

function ClipView({ clip, isMirrored, toneId, picture, keep, moves, onCannotPlay }: ClipViewProps) {
  const video = useRef<HTMLVideoElement>(null);
  const [isShown, setShown] = useState(false);
  const latest = useRef(clip);
  latest.current = clip;
  const isProxy = picture?.proxy === 'ready';
  const source = isProxy ? 'proxy' : picture?.plays === true ? 'clip' : null;
  const { place, fromSec, toSec } = clip;
  // What matters for keeping it in step; where it lies in its tile does not.
  const stepKey = `${JSON.stringify(place)}:${fromSec}:${toSec}`;
  // biome-ignore lint/correctness/useExhaustiveDependencies: stepKey stands for the clip
  useEffect(() => {
    if (video.current === null || source === null) return undefined;
    return keep({ video: video.current, clip: latest.current, isProxy, moves });
  }, [keep, source, isProxy, moves, stepKey]);
  const at = pictureInBox(clip.shown, clip.cut);
  const percent = (share: number): string => `${(100 * share).toFixed(3)}%`;
  const style: CSSProperties = {
    left: percent(at.left),
    top: percent(at.top),
    width: percent(at.width),
    height: percent(at.height),
    // Mirrored in its place: the cut is one of the mirrored picture.
    ...(toneId === null ? {} : { filter: `url(#${CSS.escape(toneId)})` }),
    ...(isMirrored ? { transform: 'scaleX(-1)' } : {}),
  };
  return (
    <>
      {!isShown && <span className="picture-tile-wait">{waitWords(picture)}</span>}
      {source !== null && (
        <video
          ref={video}
          key={source}
          className="picture-video"
          style={style}
          src={theBridge().mediaUrl(`${source}/${encodeURIComponent(clip.takeId)}`)}
          data-take={clip.takeId}
          data-source={source}
          muted
          playsInline
          disablePictureInPicture
          preload="auto"
          aria-hidden="true"
          tabIndex={-1}
          onLoadedData={(event) => {
            // A picture that cannot be decoded is told by no error, only by having no size.
            const hasPicture = event.currentTarget.videoWidth > 0;
            setShown(hasPicture);
            if (!hasPicture) onCannotPlay(clip.takeId);
          }}
          onError={() => onCannotPlay(clip.takeId)}
        />
      )}
    </>
  );
}

function waitWords(picture: TakePictureView | null): string {
  if (picture === null) return 'looking at the clip …';
  if (picture.proxy === 'failed') return 'this clip cannot be shown here; the video will have it';
  if (picture.proxy === 'stopped') return 'its small copy was stopped';
  if (picture.plays || picture.proxy === 'ready') return 'loading …';
  return 'a small copy is being made …';
}
