import { type CSSProperties, useEffect, useRef } from 'react';
import type { Size } from '../../../core/picture/canvas.ts';
import { type Drawing, draw } from '../../../core/picture/drawings.ts';

/** A name's plate or a title's card, drawn on the screen as the video has it. scale: px of the screen a px of the canvas. */
export function DrawnStill(props: {
  readonly drawing: Extract<Drawing, { kind: 'name' | 'title' }>;
  readonly scale: number;
  readonly className: string;
  readonly style?: CSSProperties;
}) {
  const { drawing, scale, className, style } = props;
  const canvas = useRef<HTMLCanvasElement>(null);
  const fine = scale * Math.min(2, window.devicePixelRatio || 1);
  const widthPx = Math.max(2, Math.round(drawing.size.widthPx * fine));
  const heightPx = Math.max(2, Math.round(drawing.size.heightPx * fine));
  const key = JSON.stringify(drawing);
  useEffect(() => {
    const pen = canvas.current?.getContext('2d');
    if (pen == null) return;
    const size: Size = { widthPx, heightPx };
    const scaled = JSON.parse(key) as typeof drawing;
    const raster = draw({ ...scaled, size, capitalPx: scaled.capitalPx * fine });
    const data = new ImageData(widthPx, heightPx);
    data.data.set(raster.data);
    pen.putImageData(data, 0, 0);
  }, [key, fine, widthPx, heightPx]);
  return <canvas ref={canvas} className={className} width={widthPx} height={heightPx} style={style} />;
}
