import { useState } from 'react';
import { putAway, useDesk } from '../desk/desk-store.ts';
import { Button } from '../parts/button.tsx';
import { FaultBox } from '../parts/fault-box.tsx';
import { Note } from '../parts/note.tsx';
import './notices.css';

/** What must be told at once: faults, and what was mended when the session was opened. */
export function Notices() {
  const faults = useDesk((state) => state.faults);
  return (
    <div className="notices">
      <div role="alert">
        {faults.map((fault) => (
          <FaultBox key={fault.message} fault={fault} onPutAway={() => putAway(fault)} />
        ))}
      </div>
      <Recovered />
    </div>
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
