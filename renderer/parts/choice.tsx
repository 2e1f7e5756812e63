import { type ReactNode, useId } from 'react';
import './choice.css';

export interface ChoiceOption<Value extends string> {
  readonly value: Value;
  readonly label: ReactNode;
  readonly hint?: ReactNode;
  readonly disabled?: boolean;
}

export interface ChoiceProps<Value extends string> {
  readonly label: ReactNode;
  readonly value: Value | null;
  readonly options: readonly ChoiceOption<Value>[];
  readonly onChange: (value: Value) => void;
  /** 'row': side by side in one frame; 'list': one below the other, with hints. */
  readonly layout?: 'row' | 'list';
  readonly hideLabel?: boolean;
  readonly disabled?: boolean;
}

/** One of several: a group of radio buttons. */
export function Choice<Value extends string>(props: ChoiceProps<Value>) {
  const { label, value, options, onChange, layout = 'row', hideLabel = false, disabled = false } = props;
  const name = useId();
  return (
    <fieldset className={`choice choice-${layout}`} disabled={disabled}>
      <legend className={hideLabel ? 'unseen' : 'choice-label'}>{label}</legend>
      <div className="choice-options">
        {options.map((option) => (
          <label key={option.value} className="choice-option">
            <input
              type="radio"
              name={name}
              value={option.value}
              checked={option.value === value}
              disabled={option.disabled ?? false}
              onChange={() => onChange(option.value)}
            />
            <span className="choice-words">
              <span>{option.label}</span>
              {option.hint !== undefined && <span className="choice-hint">{option.hint}</span>}
            </span>
          </label>
        ))}
      </div>
    </fieldset>
  );
}
