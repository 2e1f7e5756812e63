import type { FaultView } from '../../app/shell/contract/desk-view.ts';
import { Button } from './button.tsx';
import { faultWords } from './fault-words.ts';
import { Note, type NoteProps } from './note.tsx';

/** How a fault is told: what asks for nothing is not said in the colour of what failed. */
export function faultKind({ code }: Pick<FaultView, 'code'>): NonNullable<NoteProps['kind']> {
  return code === 'clip-known' ? 'plain' : 'wrong';
}

/** A fault: what happened, to which file, and what to do next. */
export function FaultBox({ fault, onPutAway }: { fault: FaultView; onPutAway?: (() => void) | undefined }) {
  const { title, path } = faultWords(fault);
  return (
    <Note
      kind={faultKind(fault)}
      title={title}
      actions={
        onPutAway !== undefined && (
          <Button small onClick={onPutAway} aria-label={`Put away: ${title}`}>
            Put away
          </Button>
        )
      }
    >
      <div>{fault.nextStep}</div>
      {path !== null && <div className="small faint path">{path}</div>}
    </Note>
  );
}
