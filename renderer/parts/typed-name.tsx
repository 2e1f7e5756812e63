import { useState } from 'react';
import './typed-name.css';

export interface TypedNameProps {
  /** What the name is of, for screen readers: "Name of voice 2". */
  readonly label: string;
  readonly value: string;
  /** At most so many signs. */
  readonly most?: number;
  /** Whether it may be left empty; else an empty name is taken back. */
  readonly mayBeEmpty?: boolean;
  readonly placeholder?: string;
  readonly className?: string;
  readonly onChange: (name: string) => void;
}

/** A name that is changed where it stands: Enter or leaving it takes the new name, Escape gives the old one back. */
export function TypedName(props: TypedNameProps) {
  const { label, value, most = 200, mayBeEmpty = false, placeholder, className = '', onChange } = props;
  const [typed, setTyped] = useState<string | null>(null);
  const take = (): void => {
    const name = typed?.trim();
    setTyped(null);
    if (name === undefined || name === value || (name === '' && !mayBeEmpty)) return;
    onChange(name);
  };
  return (
    <input
      type="text"
      className={`typed-name ${className}`}
      aria-label={label}
      value={typed ?? value}
      maxLength={most}
      placeholder={placeholder}
      spellCheck={false}
      onChange={(event) => setTyped(event.target.value)}
      onBlur={take}
      onKeyDown={(event) => {
        if (event.key === 'Enter') take();
        if (event.key === 'Escape') setTyped(null);
      }}
    />
  );
}
