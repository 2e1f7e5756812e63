import { StateSign } from '../../parts/state-sign.tsx';
import type { Mood } from './verdicts.ts';

/** The sign before words that say the same: done, look here, still to come, or a rest for what is neither. */
export function MoodMark({ mood }: { readonly mood: Mood | 'wait' }) {
  switch (mood) {
    case 'good':
      return <StateSign state="done" />;
    case 'look':
      return <StateSign state="lookHere" />;
    case 'wait':
      return <StateSign state="toDo" />;
    case 'fair':
      return (
        <svg className="state-sign" viewBox="0 0 16 16" width="16" height="16" aria-hidden="true">
          <path d="M3.5 8H12.5" className="state-sign-line" />
        </svg>
      );
  }
}
