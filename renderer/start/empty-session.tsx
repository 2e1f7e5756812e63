import { useBench } from '../desk/bench-store.ts';
import { useView } from '../desk/desk-store.ts';
import { useBringing } from '../frame/bring-in.ts';
import { chooseClipFolder, chooseClips } from '../frame/pick.ts';
import { Button } from '../parts/button.tsx';
import { BringingLine } from './bringing-line.tsx';
import './empty-session.css';

/** An open session without a clip: what to do first, in the place of the lanes. */
export function EmptySession() {
  const isReading = useView().jobs.some((job) => job.kind === 'takeIn');
  const isComing = useBringing((state) => state.title !== '');
  const busy = isReading || isComing;
  return (
    <section className="empty" aria-labelledby="empty-title">
      <svg className="empty-staves" aria-hidden="true" preserveAspectRatio="none">
        <defs>
          <pattern id="empty-staff" width="40" height="96" patternUnits="userSpaceOnUse">
            <path d="M0 20.5H40M0 30.5H40M0 40.5H40M0 50.5H40M0 60.5H40" className="empty-line" />
          </pattern>
        </defs>
        <rect width="100%" height="100%" fill="url(#empty-staff)" />
      </svg>
      <div className="empty-sheet">
        <h2 id="empty-title">
          {isReading ? 'Your clips are being read' : isComing ? 'Your clips are coming in' : 'Drop your clips here'}
        </h2>
        {busy ? (
          <p>Each shows its waveform as soon as it is read.</p>
        ) : (
          <ol className="empty-steps">
            <li>
              Drop all clips at once, or the folder they are in. Clips named alike, such as “Flute 1” and “Flute 2”,
              become takes of one voice; you can choose another way at once.
            </li>
            <li>Drop further clips onto a voice, and they become more takes of it.</li>
            <li>If you played to a guide, give it in the step Takes: it places them best.</li>
          </ol>
        )}
        <BringingLine />
        <div className="empty-actions">
          <Button kind="main" onClick={() => void chooseClips({ kind: 'newVoices' })}>
            Choose clips …
          </Button>
          <Button onClick={() => void chooseClipFolder({ kind: 'newVoices' })}>Choose a folder …</Button>
          <Button kind="quiet" onClick={() => useBench.setState({ step: 'guide' })}>
            Make a guide first
          </Button>
        </div>
      </div>
    </section>
  );
}
