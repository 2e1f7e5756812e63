import { Button } from './button.tsx';
import { waiting } from './numbers.ts';
import './progress.css';

export interface ProgressProps {
  readonly title: string;
  /** 0 to 1; null where that cannot be told. */
  readonly fraction: number | null;
  readonly leftSec: number | null;
  /** Stops the work; absent where it cannot be stopped. */
  readonly onStop?: (() => void) | undefined;
}

/** Long work: what it is, how far, how long still, and a way to stop it. */
export function Progress({ title, fraction, leftSec, onStop }: ProgressProps) {
  const percent = fraction === null ? null : Math.round(100 * Math.max(0, Math.min(1, fraction)));
  return (
    <div className="progress">
      <div className="progress-words">
        <span className="progress-title">{title}</span>
        <span className="progress-figures faint">
          {percent === null ? '…' : `${percent} %`}
          {leftSec !== null && `, ${percent === 100 ? 'nearly done' : waiting(leftSec)}`}
        </span>
      </div>
      <progress className="progress-bar" max={100} value={percent ?? undefined} aria-label={title} />
      {onStop !== undefined && (
        <Button small onClick={onStop} aria-label={`Stop: ${title}`}>
          Stop
        </Button>
      )}
    </div>
  );
}
