import { type ReactNode, useId, useState } from 'react';
import type { Word } from '../help/words.ts';
import { Explain } from './explain.tsx';
import { figure } from './numbers.ts';
import { readNumber } from './read-number.ts';
import './slider.css';

export interface SliderProps {
  /** Its name, also for screen readers. */
  readonly label: string;
  readonly value: number;
  readonly min: number;
  readonly max: number;
  readonly step: number;
  readonly unit: string;
  readonly digits?: number;
  readonly word?: Word;
  readonly hint?: ReactNode;
  readonly hideLabel?: boolean;
  readonly disabled?: boolean;
  readonly onChange: (value: number) => void;
}

/** A slider with its number beside it, which can be typed too. */
export function Slider(props: SliderProps) {
  const { label, value, min, max, step, unit, digits = 1, word, hint, hideLabel = false, disabled = false } = props;
  const id = useId();
  return (
    <div className="slider">
      <div className="slider-head">
        <label className={hideLabel || word !== undefined ? 'unseen' : 'slider-label'} htmlFor={id}>
          {label}
        </label>
        {!hideLabel && word !== undefined && (
          <span className="slider-label">
            <Explain word={word}>{label}</Explain>
          </span>
        )}
      </div>
      <div className="slider-row">
        <input
          id={id}
          type="range"
          min={min}
          max={max}
          step={step}
          value={value}
          disabled={disabled}
          aria-valuetext={`${figure(value, digits)} ${unit}`}
          onChange={(event) => props.onChange(event.target.valueAsNumber)}
        />
        <NumberBox {...props} digits={digits} disabled={disabled} />
        <span className="slider-unit">{unit}</span>
      </div>
      {hint !== undefined && <div className="small faint">{hint}</div>}
    </div>
  );
}

function NumberBox({ label, value, min, max, unit, digits, disabled, onChange }: SliderProps & { digits: number }) {
  const [typed, setTyped] = useState<string | null>(null);
  const take = (): void => {
    const number = typed === null ? null : readNumber(typed, min, max);
    if (number !== null) onChange(number);
    setTyped(null);
  };
  return (
    <input
      type="text"
      inputMode="decimal"
      className="slider-number"
      aria-label={`${label}, ${unit}`}
      value={typed ?? figure(value, digits)}
      disabled={disabled}
      onChange={(event) => setTyped(event.target.value)}
      onBlur={take}
      onKeyDown={(event) => {
        if (event.key === 'Enter') take();
        if (event.key === 'Escape') setTyped(null);
      }}
    />
  );
}
