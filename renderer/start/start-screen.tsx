import type { StartView } from '../../app/shell/contract/desk-view.ts';
import { useBench } from '../desk/bench-store.ts';
import { beginSession } from '../frame/bring-in.ts';
import { Notices } from '../frame/notices.tsx';
import { openBy, useOpening } from '../frame/opening.ts';
import { chooseClipFolder, chooseClips } from '../frame/pick.ts';
import { HelpPanel } from '../help/help-panel.tsx';
import { Button } from '../parts/button.tsx';
import { FaultBox } from '../parts/fault-box.tsx';
import { ThemeChoice } from '../theme/theme-choice.tsx';
import { BringingLine } from './bringing-line.tsx';
import { NewTitle } from './new-title.tsx';
import { OpenByPath } from './open-by-path.tsx';
import { Recents } from './recents.tsx';
import { StartScore } from './start-score.tsx';
import './start-screen.css';

/** No session is open: what Partsong does, and the ways to begin. */
export function StartScreen({ start }: { start: StartView }) {
  const helpOpen = useBench((state) => state.helpOpen);
  const opening = useOpening((state) => state.words);
  return (
    <div className={helpOpen ? 'start start-helped' : 'start'}>
      <main className="start-page" aria-busy={opening !== null}>
        <Notices />
        <header className="start-head">
          <h1 className="start-name">Partsong</h1>
          <p className="start-motto">One player, every part.</p>
          <div className="start-tools">
            <ThemeChoice />
            <Button kind="quiet" aria-pressed={helpOpen} onClick={() => useBench.setState({ helpOpen: !helpOpen })}>
              Help
            </Button>
          </div>
        </header>
        <div className="start-what">
          <p>
            You record each voice of a piece by yourself, with a phone, and bring the clips here. Partsong takes out the
            noise of the room, lays all voices on one time line and balances them. Then it writes one finished mix; your
            clips stay as they are, and nothing leaves this computer.
          </p>
          <StartScore />
        </div>
        <p role="status" className={opening === null ? 'unseen' : 'start-opening'}>
          {opening}
        </p>
        {start.ffmpegFault !== null && <FaultBox fault={start.ffmpegFault} />}
        <div className="start-ways">
          <section className="start-drop" aria-labelledby="start-drop-title">
            <h2 id="start-drop-title">Drop your clips here</h2>
            <p>
              All of them at once, or the folder they are in: sound or video, as the phone made them. A new session
              begins with them; clips named alike, such as “Flute 1” and “Flute 2”, are takes of one voice.
            </p>
            <BringingLine />
            <div className="start-choose">
              <Button kind="main" onClick={() => void chooseClips({ kind: 'newVoices' })}>
                Choose clips …
              </Button>
              <Button onClick={() => void chooseClipFolder({ kind: 'newVoices' })}>Choose a folder …</Button>
            </div>
          </section>
          <div className="start-other">
            <NewTitle onBegin={(title) => void beginSession(title)} />
            <OpenByPath home={start.home} door={start.door} />
            <section>
              <h2>Look around first</h2>
              <p>“Evening canon” is a short piece for four voices, recorded with all the usual faults.</p>
              <Button onClick={() => void openSample()}>Open the sample</Button>
            </section>
          </div>
        </div>
        <Recents recents={start.recents} />
        <footer className="start-foot faint small">
          Partsong {start.version}
          {start.ffmpeg === null ? '' : ` · ${start.ffmpeg} reads your clips`} · new sessions go to{' '}
          <span className="path">{start.home}</span>
        </footer>
      </main>
      {helpOpen && <HelpPanel />}
    </div>
  );
}

function openSample(): Promise<boolean> {
  return openBy('The sample is laid out …', (bridge) => bridge.calls.openSample({}));
}
