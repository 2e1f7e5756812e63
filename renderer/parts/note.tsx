import type { ReactNode } from 'react';
import { StateSign } from './state-sign.tsx';
import './note.css';

export interface NoteProps {
  /** 'look': the user should look here; 'wrong': something failed; 'good': it went well. */
  readonly kind?: 'plain' | 'look' | 'wrong' | 'good';
  readonly title?: ReactNode;
  readonly children?: ReactNode;
  /** Buttons at its end. */
  readonly actions?: ReactNode;
}

/** A remark in the margin. */
export function Note({ kind = 'plain', title, children, actions }: NoteProps) {
  return (
    <div className={`note note-${kind}`}>
      {kind === 'look' && <StateSign state="lookHere" />}
      {kind === 'good' && <StateSign state="done" />}
      <div className="note-words">
        {title !== undefined && <strong className="note-title">{title} </strong>}
        {children}
      </div>
      {actions !== undefined && <div className="note-actions">{actions}</div>}
    </div>
  );
}
