import { useEffect, useId, useState } from 'react';
import { figure } from '../../parts/numbers.ts';
import { readNumber } from '../../parts/read-number.ts';
import './number-field.css';

export interface NumberFieldProps {
  readonly label: string;
  /** null shows an empty field. */
  readonly value: number | null;
  readonly unit: string;
  readonly lowest: number;
  readonly highest: number;
  readonly step: number;
  readonly digits: number;
  readonly disabled?: boolean;
  /** The label is for screen readers only: what stands around says it. */
  readonly quiet?: boolean;
  readonly onSet: (value: number) => void;
}

/** A number that can be typed (Enter, or leaving the field, sets it) or stepped with the arrow keys. */
export function NumberField(props: NumberFieldProps) {
  const { label, value, unit, lowest, highest, step, digits, disabled = false, quiet = false, onSet } = props;
  const id = useId();
  const shown = value === null ? '' : figure(value, digits);
  const [draft, setDraft] = useState(shown);
  useEffect(() => setDraft(shown), [shown]);
  const set = (wanted: number | null): void => {
    if (wanted === null) {
      setDraft(shown);
      return;
    }
    const held = Math.max(lowest, Math.min(highest, wanted));
    setDraft(figure(held, digits));
    if (value === null || Math.abs(held - value) >= 0.5 * 10 ** -digits) onSet(held);
  };
  const typed = (): void => {
    if (draft !== shown) set(readNumber(draft, lowest, highest));
  };
  return (
    <span className="number-field">
      <label htmlFor={id} className={quiet ? 'unseen' : undefined}>
        {label}
      </label>
      <input
        id={id}
        type="text"
        inputMode="decimal"
        autoComplete="off"
        disabled={disabled}
        value={draft}
        size={Math.max(5, shown.length)}
        aria-describedby={unit === '' ? undefined : `${id}-unit`}
        onChange={(event) => setDraft(event.target.value)}
        onBlur={typed}
        onKeyDown={(event) => {
          if (event.key === 'Enter') typed();
          if (event.key === 'Escape') setDraft(shown);
          if (event.key === 'ArrowUp' || event.key === 'ArrowDown') {
            event.preventDefault();
            set((value ?? 0) + (event.key === 'ArrowUp' ? step : -step));
          }
        }}
      />
      <span id={`${id}-unit`}>{unit}</span>
    </span>
  );
}
