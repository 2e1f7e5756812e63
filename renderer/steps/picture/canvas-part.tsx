import { type CanvasShape, canvasOfShape, SHAPES } from '../../../core/picture/canvas.ts';
import { PICTURE_RATES, perSecond, rateInWords } from '../../../core/picture/picture-rate.ts';
import { onCanvas } from '../../../core/session/picture-choice.ts';
import { Choice } from '../../parts/choice.tsx';
import { Explain } from '../../parts/explain.tsx';
import { Field } from '../../parts/field.tsx';
import { setParts } from './picture-edits.ts';
import type { PictureModel } from './picture-model.ts';
import { nearestShape, shortSides } from './picture-words.ts';

/** Canvas, rate, and whether the clips are matched. */
export function CanvasPart({ model }: { model: PictureModel }) {
  const { picture, plan } = model;
  const { canvas } = picture;
  const shape = nearestShape(canvas);
  const short = Math.min(canvas.widthPx, canvas.heightPx);
  const resize = (toShape: CanvasShape, toShort: number): void =>
    setParts(onCanvas(picture, canvasOfShape(toShape, toShort)));
  return (
    <section className="picture-part" aria-labelledby="picture-canvas">
      <h3 id="picture-canvas">Canvas</h3>
      <Choice
        label="Shape"
        value={shape}
        options={SHAPES.map((value) => ({ value, label: value }))}
        onChange={(value) => resize(value, short)}
      />
      <Field label="Size">
        {(ids) => (
          <select {...ids} value={short} onChange={(event) => resize(shape ?? '16:9', Number(event.target.value))}>
            {[...new Set([...shortSides, short])]
              .sort((one, other) => one - other)
              .map((side) => {
                const size = canvasOfShape(shape ?? '16:9', side);
                return (
                  <option key={side} value={side}>
                    {size.widthPx} × {size.heightPx} px
                  </option>
                );
              })}
          </select>
        )}
      </Field>
      <Field label={<Explain word="pictureRate">Pictures a second</Explain>}>
        {(ids) => (
          <select
            {...ids}
            value={picture.rate === null ? 'clips' : perSecond(picture.rate)}
            onChange={(event) => {
              const wanted = PICTURE_RATES.find((rate) => String(perSecond(rate)) === event.target.value);
              setParts({ rate: wanted === undefined ? null : { ...wanted } });
            }}
          >
            <option value="clips">
              chosen by itself{plan !== null && picture.rate === null ? `: ${figureOf(perSecond(plan.rate))}` : ''}
            </option>
            {PICTURE_RATES.map((rate) => (
              <option key={perSecond(rate)} value={perSecond(rate)}>
                {rateInWords(rate)}
              </option>
            ))}
          </select>
        )}
      </Field>
      <div>
        <label className="tick">
          <input
            type="checkbox"
            checked={picture.matched}
            onChange={(event) => setParts({ matched: event.target.checked })}
          />
          <span>Light and colour of the clips alike</span>
        </label>
        <p className="small faint">
          Brings them nearer to one another by their means, within limits; seen here once each clip was measured.
        </p>
      </div>
    </section>
  );
}

const figureOf = (rate: number): string => String(Number(rate.toFixed(3)));
