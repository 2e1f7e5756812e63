import { useState } from 'react';
import type { FaultView } from '../../app/shell/contract/desk-view.ts';
import { putAway, useDesk } from '../desk/desk-store.ts';
import { Button } from '../parts/button.tsx';
import { FaultBox, faultKind } from '../parts/fault-box.tsx';
import { faultWords } from '../parts/fault-words.ts';
import { Note } from '../parts/note.tsx';
import { alikeFaults } from './alike-faults.ts';
import './notices.css';

/** What must be told at once: faults, and what was mended when the session was opened. */
export function Notices() {
  const faults = useDesk((state) => state.faults);
  return (
    <div className="notices">
      <div role="alert">
        {alikeFaults(faults).map((alike) =>
          alike.length === 1 ? (
            <FaultBox key={alike[0]!.message} fault={alike[0]!} onPutAway={() => putAway(alike[0]!)} />
          ) : (
            <AlikeFaults key={alike[0]!.message} faults={alike} />
          ),
        )}
      </div>
      <Recovered />
    </div>
  );
}

/** Several faults that ask for the same, as when a folder is brought a second time: one box, so that the screen stays free. */
function AlikeFaults({ faults }: { readonly faults: readonly FaultView[] }) {
  const [first] = faults as [FaultView];
  return (
    <Note
      kind={faultKind(first)}
      title={`${faults.length} times the same:`}
      actions={
        <Button small onClick={() => faults.forEach(putAway)} aria-label={`Put away these ${faults.length}`}>
          Put away
        </Button>
      }
    >
      {first.nextStep}
      <ul className="notices-alike small">
        {faults.map((fault) => (
          <li key={fault.message}>{faultWords(fault).title}</li>
        ))}
      </ul>
    </Note>
  );
}

function Recovered() {
  const recovered = useDesk((state) => state.view?.recovered ?? null);
  const [read, setRead] = useState<string | null>(null);
  if (recovered === null || recovered === read) return null;
  return (
    <Note
      kind="look"
      title="Brought back."
      actions={
        <Button small onClick={() => setRead(recovered)}>
          Put away
        </Button>
      }
    >
      {recovered}
    </Note>
  );
}
