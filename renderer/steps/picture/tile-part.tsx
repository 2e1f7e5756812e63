import { LARGEST_ZOOM } from '../../../core/picture/crop.ts';
import { useBench } from '../../desk/bench-store.ts';
import { edit } from '../../desk/desk-store.ts';
import { Button } from '../../parts/button.tsx';
import { Field } from '../../parts/field.tsx';
import { Slider } from '../../parts/slider.tsx';
import { GestureGroup } from '../drawing/gesture-group.tsx';
import { NumberField } from '../drawing/number-field.tsx';
import { putTile, setTile, showTile, swapEdit } from './picture-edits.ts';
import type { PictureModel, PictureTile } from './picture-model.ts';
import { ShareSlider } from './share-slider.tsx';
import { heldZoom, movedBy, resizedBy } from './tile-moves.ts';

/** The tile in hand: what of its clip is seen, and where it lies. */
export function TilePart({ model }: { model: PictureModel }) {
  const { tiles, hidden, picture, unseen } = model;
  const inHand = useBench((state) => state.voiceId);
  const tile = tiles.find(({ voiceId }) => voiceId === inHand) ?? tiles[0];
  return (
    <section className="picture-part" aria-labelledby="picture-tile">
      <h3 id="picture-tile">Tile</h3>
      {tile !== undefined && (
        <>
          <Field label="Of">
            {(ids) => (
              <select
                {...ids}
                value={tile.voiceId}
                onChange={(event) => useBench.setState({ voiceId: event.target.value })}
              >
                {tiles.map(({ voiceId, name }) => (
                  <option key={voiceId} value={voiceId}>
                    {name}
                  </option>
                ))}
              </select>
            )}
          </Field>
          {tile.crop === null ? (
            <p className="small faint">This voice has no picture: its name and the shape of its sound are drawn.</p>
          ) : (
            <CropSliders key={tile.voiceId} tile={tile} />
          )}
          <PlaceFields model={model} tile={tile} />
          <div className="picture-row">
            <label className="tick">
              <input
                type="checkbox"
                checked={tile.choice.mirrored}
                disabled={tile.crop === null}
                onChange={(event) => setTile(tile.choice, { mirrored: event.target.checked })}
              />
              <span>Mirrored</span>
            </label>
            <Button small onClick={() => setTile(tile.choice, { shown: false })} disabled={tiles.length < 2}>
              Hide
            </Button>
            <Button
              small
              onClick={() => setTile(tile.choice, { order: topOrder(tiles) + 1 })}
              disabled={tiles.length < 2}
            >
              Bring to the top
            </Button>
            {tile.choice.box !== null && (
              <Button small onClick={() => setTile(tile.choice, { box: null, order: 0 })}>
                Leave its place to the tiling
              </Button>
            )}
          </div>
          {tiles.length > 1 && (
            <Field label="Change places with">
              {(ids) => (
                <select
                  {...ids}
                  value=""
                  onChange={(event) => {
                    const other = tiles.find(({ voiceId }) => voiceId === event.target.value);
                    if (other !== undefined) edit(swapEdit(tile, other));
                  }}
                >
                  <option value="">choose …</option>
                  {tiles
                    .filter((other) => other !== tile)
                    .map(({ voiceId, name }) => (
                      <option key={voiceId} value={voiceId}>
                        {name}
                      </option>
                    ))}
                </select>
              )}
            </Field>
          )}
        </>
      )}
      {hidden.length > 0 && (
        <ul className="picture-hidden">
          {hidden.map(({ voiceId, name }) => (
            <li key={voiceId} className="picture-row">
              <span>{name} is hidden</span>
              <Button small onClick={() => showTile(picture, voiceId)} aria-label={`Show ${name} again`}>
                Show
              </Button>
            </li>
          ))}
        </ul>
      )}
      {unseen.map(({ voiceId, name, why }) => (
        <p key={voiceId} className="small faint">
          {name} has no tile: {why}.
        </p>
      ))}
    </section>
  );
}

function topOrder(tiles: readonly PictureTile[]): number {
  return Math.max(...tiles.map(({ choice }) => choice.order));
}

function CropSliders({ tile }: { tile: PictureTile }) {
  const crop = tile.crop!;
  return (
    <GestureGroup className="picture-sliders">
      {(key) => (
        <>
          <Slider
            label="Nearer"
            unit="×"
            digits={2}
            min={1}
            max={LARGEST_ZOOM}
            step={0.05}
            value={crop.zoom}
            onChange={(zoom) => setTile(tile.choice, { crop: { ...crop, zoom: heldZoom(zoom) } }, key('zoom'))}
          />
          <ShareSlider
            label="What stays in view, from the left"
            share={crop.focusX}
            stepPercent={1}
            onChange={(focusX) => setTile(tile.choice, { crop: { ...crop, focusX } }, key('x'))}
          />
          <ShareSlider
            label="From above"
            share={crop.focusY}
            stepPercent={1}
            onChange={(focusY) => setTile(tile.choice, { crop: { ...crop, focusY } }, key('y'))}
          />
          {tile.choice.crop !== null && (
            <div>
              <Button small onClick={() => setTile(tile.choice, { crop: null })}>
                As much of the clip as fits
              </Button>
            </div>
          )}
        </>
      )}
    </GestureGroup>
  );
}

function PlaceFields({ model, tile }: { model: PictureModel; tile: PictureTile }) {
  const { canvas } = model.picture;
  const { box } = tile;
  const common = { unit: 'px', step: 2, digits: 0 } as const;
  return (
    <div className="picture-place">
      <NumberField
        {...common}
        label="From the left"
        value={box.xPx}
        lowest={0}
        highest={canvas.widthPx - box.widthPx}
        onSet={(xPx) => putTile(tile, movedBy(box, canvas, xPx - box.xPx, 0))}
      />
      <NumberField
        {...common}
        label="From above"
        value={box.yPx}
        lowest={0}
        highest={canvas.heightPx - box.heightPx}
        onSet={(yPx) => putTile(tile, movedBy(box, canvas, 0, yPx - box.yPx))}
      />
      <NumberField
        {...common}
        label="Width"
        value={box.widthPx}
        lowest={32}
        highest={canvas.widthPx - box.xPx}
        onSet={(widthPx) => putTile(tile, resizedBy(box, canvas, widthPx - box.widthPx, 0))}
      />
      <NumberField
        {...common}
        label="Height"
        value={box.heightPx}
        lowest={32}
        highest={canvas.heightPx - box.yPx}
        onSet={(heightPx) => putTile(tile, resizedBy(box, canvas, 0, heightPx - box.heightPx))}
      />
    </div>
  );
}
