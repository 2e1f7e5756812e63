import { type ReactNode, useId, useRef, useState } from 'react';
import { beside } from './beside.ts';
import { Button, type ButtonProps } from './button.tsx';
import './popup.css';

export interface PopupProps {
  /** What the button shows. */
  readonly button: ReactNode;
  /** The name of button and box, for screen readers. */
  readonly label: string;
  readonly kind?: ButtonProps['kind'];
  /** Draws the box; drawn only while it is open. `close` puts it away and gives the focus back to the button. */
  readonly children: (close: () => void) => ReactNode;
}

/** A button that opens a small box beside it; Escape, or a press elsewhere, puts it away. */
export function Popup({ button, label, kind = 'quiet', children }: PopupProps) {
  const id = useId();
  const anchor = useRef<HTMLButtonElement>(null);
  const box = useRef<HTMLDivElement>(null);
  const [open, setOpen] = useState(false);
  const close = (): void => {
    box.current?.hidePopover();
    anchor.current?.focus();
  };
  return (
    <>
      <Button
        small
        kind={kind}
        ref={anchor}
        popoverTarget={id}
        aria-label={label}
        aria-expanded={open}
        aria-haspopup="dialog"
        title={label}
      >
        {button}
      </Button>
      <div
        ref={box}
        id={id}
        popover="auto"
        role="dialog"
        aria-label={label}
        className="popup-box"
        onBlur={({ relatedTarget }) => {
          // Whoever tabs out of it goes on behind it, and must see where.
          const isElsewhere = relatedTarget instanceof Node && !box.current?.contains(relatedTarget);
          if (isElsewhere && relatedTarget !== anchor.current) box.current?.hidePopover();
        }}
        onBeforeToggle={(event) => {
          setOpen(event.newState === 'open');
          // Its contents go at once, and the focus with them, before the browser could give it back.
          if (event.newState !== 'open' && box.current?.contains(document.activeElement)) anchor.current?.focus();
        }}
        onToggle={(event) => {
          if (event.newState !== 'open' || box.current === null || anchor.current === null) return;
          beside(box.current, anchor.current);
          box.current.querySelector<HTMLElement>('input:checked, button:not(:disabled), input, select')?.focus();
        }}
      >
        {open && children(close)}
      </div>
    </>
  );
}
