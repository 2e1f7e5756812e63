import { type ReactNode, useId } from 'react';
import './field.css';

export interface FieldProps {
  readonly label: ReactNode;
  readonly hint?: ReactNode;
  /** What is wrong with it; null when nothing. */
  readonly wrong?: string | null;
  /** Draws the control with the ids that tie it to label and hint. */
  readonly children: (ids: { readonly id: string; readonly 'aria-describedby': string | undefined }) => ReactNode;
}

/** A control with its label, a hint below, and what is wrong with it. */
export function Field({ label, hint, wrong = null, children }: FieldProps) {
  const id = useId();
  const hasHint = hint !== undefined || wrong !== null;
  return (
    <div className="field">
      <label className="field-label" htmlFor={id}>
        {label}
      </label>
      {children({ id, 'aria-describedby': hasHint ? `${id}-hint` : undefined })}
      {hasHint && (
        <div className="field-hint" id={`${id}-hint`}>
          {wrong === null ? hint : <span className="wrong">{wrong}</span>}
        </div>
      )}
    </div>
  );
}
