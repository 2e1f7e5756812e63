import { Button } from '../parts/button.tsx';
import { Note } from '../parts/note.tsx';

/** The desk went away: nothing on the page can be done any more, and this says so above all. */
export function Lost() {
  return (
    <div className="frame-lost" role="alert">
      <Note
        kind="wrong"
        title="The connection to Partsong is lost."
        actions={<Button onClick={() => location.reload()}>Try again</Button>}
      >
        It was closed, or it stopped. Your session is saved up to your last change. Start Partsong again and open the
        session.
      </Note>
    </div>
  );
}
