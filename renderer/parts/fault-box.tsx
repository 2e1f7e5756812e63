import type { FaultView } from '../../app/shell/contract/desk-view.ts';
import { Button } from './button.tsx';
import { Note } from './note.tsx';

/** A fault: what happened, to which file, and what to do next. */
export function FaultBox({ fault, onPutAway }: { fault: FaultView; onPutAway?: (() => void) | undefined }) {
  return (
    <Note
      kind="wrong"
      title={fault.message}
      actions={
        onPutAway !== undefined && (
          <Button small onClick={onPutAway} aria-label={`Put away: ${fault.message}`}>
            Put away
          </Button>
        )
      }
    >
      <div>{fault.nextStep}</div>
      {fault.file !== null && !fault.message.includes(fault.file) && (
        <div className="small faint path">{fault.file}</div>
      )}
    </Note>
  );
}
