import { useState } from 'react';
import { readNumber } from '../../parts/read-number.ts';
import './several-part.css';

/** Seconds to be typed; taken over with Enter or when left. */
export function TypedSeconds({
  label,
  value,
  onChange,
}: {
  readonly label: string;
  readonly value: number;
  readonly onChange: (sec: number) => void;
}) {
  const [text, setText] = useState<string | null>(null);
  const take = (): void => {
    const sec = text === null ? null : readNumber(text, 0, Number.POSITIVE_INFINITY);
    setText(null);
    if (sec !== null) onChange(sec);
  };
  return (
    <input
      type="text"
      inputMode="decimal"
      className="several-seconds"
      aria-label={label}
      value={text ?? value.toFixed(1)}
      onChange={(event) => setText(event.target.value)}
      onBlur={take}
      onKeyDown={(event) => {
        if (event.key === 'Enter') take();
        if (event.key === 'Escape') setText(null);
      }}
    />
  );
}
