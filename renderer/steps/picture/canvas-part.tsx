import { type CanvasShape, canvasOfShape, SHAPES } from '../../../core/picture/canvas.ts';
import { PICTURE_RATES, perSecond, rateInWords } from '../../../core/picture/picture-rate.ts';
import { TILING_KINDS, type TilingKind, tile, usualGapPx } from '../../../core/picture/tiling.ts';
import { onCanvas } from '../../../core/session/picture-choice.ts';
import { useView } from '../../desk/desk-store.ts';
import { Button } from '../../parts/button.tsx';
import { Choice } from '../../parts/choice.tsx';
import { Explain } from '../../parts/explain.tsx';
import { Field } from '../../parts/field.tsx';
import { figure } from '../../parts/numbers.ts';
import { Slider } from '../../parts/slider.tsx';
import { GestureGroup } from '../drawing/gesture-group.tsx';
import { layAnew, setParts } from './picture-edits.ts';
import { type PictureModel, tileAspects } from './picture-model.ts';
import { nearestShape, shortSides } from './picture-words.ts';

/** Canvas, rate and tiling. */
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

const kindWords: Readonly<Record<TilingKind, string>> = {
  rows: 'Rows',
  lead: 'One leads',
  ranks: 'Ranks',
  strip: 'Strip',
};

/** How the tiles lie, and how good that is. */
export function TilingPart({ model }: { model: PictureModel }) {
  const { picture, plan, isByHand, leadId } = model;
  const { tiling } = picture;
  const { voices } = useView().session;
  return (
    <section className="picture-part" aria-labelledby="picture-tiling">
      <h3 id="picture-tiling">
        <Explain word="tiling">Tiling</Explain>
      </h3>
      <Choice
        layout="list"
        label="How the tiles lie"
        hideLabel
        value={tiling.kind}
        options={TILING_KINDS.map((kind) => ({ value: kind, label: kindWords[kind], hint: costWords(model, kind) }))}
        onChange={(kind) => setParts({ tiling: { ...tiling, kind } })}
      />
      {tiling.kind === 'lead' && (
        <Field label="In the large tile">
          {(ids) => (
            <select {...ids} value={leadId ?? ''} onChange={(event) => setParts({ leadVoiceId: event.target.value })}>
              {voices.map(({ id, name }) => (
                <option key={id} value={id}>
                  {name}
                </option>
              ))}
            </select>
          )}
        </Field>
      )}
      {plan !== null && (
        <p className="small">
          <Explain word="waste">Left empty</Explain> {figure(100 * plan.quality.waste, 0)} %,{' '}
          <Explain word="cropped">cut off</Explain> {figure(100 * plan.quality.crop, 0)} % of the clips.
        </p>
      )}
      {isByHand && (
        <div className="picture-row">
          <span className="small faint">Some tiles were put by hand.</span>
          <Button small onClick={() => layAnew(picture)}>
            Leave all to the tiling
          </Button>
        </div>
      )}
      <GestureGroup className="picture-sliders">
        {(key) => (
          <>
            <Slider
              label="Most cut off to fill space"
              unit="%"
              digits={0}
              min={0}
              max={100}
              step={5}
              value={100 * tiling.mostCrop}
              onChange={(value) => setParts({ tiling: { ...tiling, mostCrop: value / 100 } }, key('crop'))}
            />
            <Slider
              label="Between the tiles"
              unit="px"
              digits={0}
              min={0}
              max={8 * usualGapPx(picture.canvas)}
              step={2}
              value={tiling.gapPx}
              onChange={(value) => setParts({ tiling: { ...tiling, gapPx: even(value) } }, key('gap'))}
            />
            <Slider
              label="Margin around"
              unit="px"
              digits={0}
              min={0}
              max={12 * usualGapPx(picture.canvas)}
              step={2}
              value={tiling.marginPx}
              onChange={(value) => setParts({ tiling: { ...tiling, marginPx: even(value) } }, key('margin'))}
            />
            <Slider
              label="Rounded corners"
              unit="px"
              digits={0}
              min={0}
              max={12 * usualGapPx(picture.canvas)}
              step={2}
              value={picture.roundingPx}
              onChange={(value) => setParts({ roundingPx: even(value) }, key('rounding'))}
            />
            <Slider
              label="Border"
              unit="px"
              digits={0}
              min={0}
              max={4 * usualGapPx(picture.canvas)}
              step={2}
              value={picture.borderPx}
              onChange={(value) => setParts({ borderPx: even(value) }, key('border'))}
            />
          </>
        )}
      </GestureGroup>
      <GestureGroup className="picture-row">
        {(key) => (
          <>
            <ColourField
              label="Background"
              value={picture.background}
              onChange={(background) => setParts({ background }, key('background'))}
            />
            {picture.borderPx > 0 && (
              <ColourField
                label="Colour of borders"
                value={picture.borderColour}
                onChange={(borderColour) => setParts({ borderColour }, key('borderColour'))}
              />
            )}
          </>
        )}
      </GestureGroup>
    </section>
  );
}

const even = (px: number): number => 2 * Math.round(px / 2);

function ColourField({ label, value, onChange }: { label: string; value: string; onChange: (value: string) => void }) {
  return (
    <label className="picture-colour">
      <span>{label}</span>
      <input type="color" value={value} onChange={(event) => onChange(event.target.value.toLowerCase())} />
    </label>
  );
}

/** What a tiling of a kind would leave empty and cut off. */
function costWords(model: PictureModel, kind: TilingKind): string {
  const { picture, tiles, leadId } = model;
  if (tiles.length === 0) return '';
  const aspects = tileAspects(tiles);
  const lead = tiles.findIndex(({ voiceId }) => voiceId === leadId);
  try {
    const { quality } = tile(picture.canvas, aspects, { ...picture.tiling, kind, leadIndex: Math.max(0, lead) });
    return `${figure(100 * quality.waste, 0)} % empty, ${figure(100 * quality.crop, 0)} % cut`;
  } catch {
    return 'too many voices';
  }
}
