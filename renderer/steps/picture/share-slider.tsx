import { Slider } from '../../parts/slider.tsx';

interface ShareSliderProps {
  readonly label: string;
  /** 0 to 1, shown in per cent. */
  readonly share: number;
  readonly stepPercent: number;
  readonly onChange: (share: number) => void;
}

/** A share of something, in per cent. */
export function ShareSlider({ label, share, stepPercent, onChange }: ShareSliderProps) {
  return (
    <Slider
      label={label}
      unit="%"
      digits={0}
      min={0}
      max={100}
      step={stepPercent}
      value={100 * share}
      onChange={(value) => onChange(value / 100)}
    />
  );
}
