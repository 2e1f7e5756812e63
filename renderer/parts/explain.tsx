import { type ReactNode, useId, useRef, useState } from 'react';
import { type Word, words } from '../help/words.ts';
import { beside } from './beside.ts';
import './explain.css';

/**
 * A word with its plain explanation on demand: press it, and the explanation opens beside it and is read out; press again,
 * press Escape, or go elsewhere, and it is put away. Shows the word's own name where no other text is given.
 */
export function Explain({ word, children }: { word: Word; children?: ReactNode }) {
  const id = useId();
  const button = useRef<HTMLButtonElement>(null);
  const box = useRef<HTMLSpanElement>(null);
  const [open, setOpen] = useState(false);
  const { name, text } = words[word];
  return (
    <>
      <button
        ref={button}
        type="button"
        className="explain"
        popoverTarget={id}
        aria-expanded={open}
        aria-label={children === undefined ? `${name}: what is this?` : undefined}
        title={`What is ${name}?`}
      >
        {children ?? name}
      </button>
      <span
        ref={box}
        id={id}
        popover="auto"
        role="note"
        className="explain-box"
        onToggle={(event) => {
          const isOpen = event.newState === 'open';
          setOpen(isOpen);
          if (isOpen && button.current !== null && box.current !== null) beside(box.current, button.current);
        }}
      >
        <span aria-live="polite">
          {open && (
            <>
              <strong className="explain-name">{name}</strong> {text}
            </>
          )}
        </span>
      </span>
    </>
  );
}
