import { useEffect, useRef } from 'react';
import { draw, VOICE_COLOURS } from '../../../core/picture/drawings.ts';
import type { PictureTile } from './picture-model.ts';
import { usePeaks } from './use-peaks.ts';

/** Drawn as finely as this at most, px: larger tiles are stretched. */
const MOST_PX = 640;

/** The tile of a voice without a picture, drawn as the video has it: its name and the shape of its sound. */
export function DrawnTile({ tile, width, height }: { tile: PictureTile; width: number; height: number }) {
  const canvas = useRef<HTMLCanvasElement>(null);
  const peaks = usePeaks(tile.voiceId);
  const share = Math.min(1, MOST_PX / Math.max(width, height));
  const widthPx = Math.max(16, Math.round(width * share));
  const heightPx = Math.max(16, Math.round(height * share));
  const colour = VOICE_COLOURS[tile.colour] ?? VOICE_COLOURS[7];
  useEffect(() => {
    const pen = canvas.current?.getContext('2d');
    if (pen == null) return;
    const size = { widthPx, heightPx };
    const raster = draw({ kind: 'voice', size, name: tile.name, colour, peaks });
    const data = new ImageData(widthPx, heightPx);
    data.data.set(raster.data);
    pen.putImageData(data, 0, 0);
  }, [widthPx, heightPx, tile.name, colour, peaks]);
  return (
    <>
      <canvas ref={canvas} className="picture-drawn" width={widthPx} height={heightPx} />
      {peaks.length > 0 && <span className="picture-line" aria-hidden="true" />}
    </>
  );
}
