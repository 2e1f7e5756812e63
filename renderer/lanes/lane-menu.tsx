import { useEffect, useRef } from 'react';

export interface MenuItem {
  readonly label: string;
  readonly run: () => void;
  /** Why it cannot be done now; absent when it can. */
  readonly not?: string;
}

export interface LaneMenuProps {
  readonly title: string;
  readonly items: readonly MenuItem[];
  /** Window coordinates, CSS pixels. */
  readonly x: number;
  readonly y: number;
  /** The focus goes back to where it was. */
  readonly onClose: () => void;
}

/** What can be done with a lane or a stretch: opened by the context button of mouse or keyboard, or by its button. */
export function LaneMenu({ title, items, x, y, onClose }: LaneMenuProps) {
  const box = useRef<HTMLDivElement>(null);
  useEffect(() => {
    const menu = box.current;
    if (menu === null) return undefined;
    const { width, height } = menu.getBoundingClientRect();
    menu.style.left = `${Math.max(4, Math.min(x, innerWidth - width - 4))}px`;
    menu.style.top = `${Math.max(4, Math.min(y, innerHeight - height - 4))}px`;
    menu.querySelector<HTMLElement>('[role="menuitem"]')?.focus();
    const outside = (event: PointerEvent): void => {
      if (!menu.contains(event.target as Node)) onClose();
    };
    document.addEventListener('pointerdown', outside, true);
    return () => document.removeEventListener('pointerdown', outside, true);
  }, [x, y, onClose]);
  const onKey = (event: React.KeyboardEvent): void => {
    const all = [...(box.current?.querySelectorAll<HTMLElement>('[role="menuitem"]') ?? [])];
    const at = all.indexOf(document.activeElement as HTMLElement);
    const to = { ArrowDown: at + 1, ArrowUp: at - 1, Home: 0, End: all.length - 1 }[event.key];
    event.stopPropagation();
    if (event.key === 'Escape' || event.key === 'Tab') {
      event.preventDefault();
      onClose();
    } else if (to !== undefined) {
      event.preventDefault();
      all[(to + all.length) % all.length]?.focus();
    }
  };
  return (
    <div ref={box} className="lanes-menu" role="menu" aria-label={title} tabIndex={-1} onKeyDown={onKey}>
      <p className="lanes-menu-title" aria-hidden="true">
        {title}
      </p>
      {items.map((item) => (
        <button
          key={item.label}
          type="button"
          role="menuitem"
          tabIndex={-1}
          aria-disabled={item.not !== undefined}
          title={item.not ?? ''}
          onClick={() => {
            if (item.not !== undefined) return;
            onClose();
            item.run();
          }}
        >
          {item.label}
          {item.not === undefined ? null : <small>{item.not}</small>}
        </button>
      ))}
    </div>
  );
}
