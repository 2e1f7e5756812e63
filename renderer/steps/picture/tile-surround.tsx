import { usualGapPx } from '../../../core/picture/tiling.ts';
import type { PictureChoice } from '../../../core/session/picture-schema.ts';
import { Slider } from '../../parts/slider.tsx';
import { GestureGroup } from '../drawing/gesture-group.tsx';
import { setParts } from './picture-edits.ts';
import { ShareSlider } from './share-slider.tsx';

/** How much of the clips may be cut off, and the room, corners and borders of the tiles. */
export function SpacingSliders({ picture }: { picture: PictureChoice }) {
  const { tiling } = picture;
  const usualPx = usualGapPx(picture.canvas);
  return (
    <GestureGroup className="picture-sliders">
      {(key) => (
        <>
          <ShareSlider
            label="Most cut off to fill space"
            share={tiling.mostCrop}
            stepPercent={5}
            onChange={(mostCrop) => setParts({ tiling: { ...tiling, mostCrop } }, key('crop'))}
          />
          <LengthSlider
            label="Between the tiles"
            mostPx={8 * usualPx}
            px={tiling.gapPx}
            onChange={(gapPx) => setParts({ tiling: { ...tiling, gapPx } }, key('gap'))}
          />
          <LengthSlider
            label="Margin around"
            mostPx={12 * usualPx}
            px={tiling.marginPx}
            onChange={(marginPx) => setParts({ tiling: { ...tiling, marginPx } }, key('margin'))}
          />
          <LengthSlider
            label="Rounded corners"
            mostPx={12 * usualPx}
            px={picture.roundingPx}
            onChange={(roundingPx) => setParts({ roundingPx }, key('rounding'))}
          />
          <LengthSlider
            label="Border"
            mostPx={4 * usualPx}
            px={picture.borderPx}
            onChange={(borderPx) => setParts({ borderPx }, key('border'))}
          />
        </>
      )}
    </GestureGroup>
  );
}

interface LengthSliderProps {
  readonly label: string;
  readonly mostPx: number;
  readonly px: number;
  /** Called with an even number, px. */
  readonly onChange: (px: number) => void;
}

function LengthSlider({ label, mostPx, px, onChange }: LengthSliderProps) {
  return (
    <Slider
      label={label}
      unit="px"
      digits={0}
      min={0}
      max={mostPx}
      step={2}
      value={px}
      onChange={(value) => onChange(2 * Math.round(value / 2))}
    />
  );
}

/** The colours of what is around the tiles. */
export function ColourFields({ picture }: { picture: PictureChoice }) {
  return (
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
  );
}

function ColourField({ label, value, onChange }: { label: string; value: string; onChange: (value: string) => void }) {
  return (
    <label className="picture-colour">
      <span>{label}</span>
      <input type="color" value={value} onChange={(event) => onChange(event.target.value.toLowerCase())} />
    </label>
  );
}
