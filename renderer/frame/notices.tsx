import { useState } from 'react';
import { putAway, useDesk } from '../desk/desk-store.ts';
import { Button } from '../parts/button.tsx';
import { FaultBox } from '../parts/fault-box.tsx';
import { Note } from '../parts/note.tsx';
import './notices.css';

/** What must be told at once: a lost desk, faults, and what was mended when the session was opened. */
export function Notices() {
  const faults = useDesk((state) => state.faults);
  const lost = useDesk((state) => state.lost);
  return (
    <div className="notices">
      <div role="alert">
        {lost && (
          <Note
            kind="wrong"
            title="The connection to Partsong is lost."
            actions={<Button onClick={() => location.reload()}>Try again</Button>}
          >
            It was closed, or stopped. Your session is saved up to your last change. Start Partsong again, then open the
            session.
          </Note>
        )}
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
