import { useEffect } from 'react';
import { useBench } from '../desk/bench-store.ts';
import { useDesk } from '../desk/desk-store.ts';
import { HelpPanel } from '../help/help-panel.tsx';
import { startShortcuts } from '../help/shortcuts.ts';
import { Lanes } from '../lanes/lanes.tsx';
import { Transport } from '../playback/transport.tsx';
import { EmptySession } from '../start/empty-session.tsx';
import { StartScreen } from '../start/start-screen.tsx';
import { BenchOf } from './bench-of.tsx';
import { DropLayer } from './drop-layer.tsx';
import { Fence } from './fence.tsx';
import { keepFocus } from './focus-keeper.ts';
import { useFrameCommands } from './frame-commands.ts';
import { Header } from './header.tsx';
import { JobsStrip } from './jobs-strip.tsx';
import { Lost } from './lost.tsx';
import { Notices } from './notices.tsx';
import { RunningOrder } from './running-order.tsx';
import { Said } from './said.tsx';
import { useSessionChange } from './session-change.ts';
import { SplitPanes } from './split-panes.tsx';
import './frame.css';

/** The frame of the screen: header, running order, lanes, bench, transport; the start screen while no session is open. */
export function Frame() {
  const start = useDesk((state) => state.start);
  const isOpen = useDesk((state) => state.view !== null);
  const lost = useDesk((state) => state.lost);
  useFrameCommands();
  useSessionChange();
  useEffect(startShortcuts, []);
  useEffect(() => keepFocus(document), []);
  return (
    <>
      {lost && <Lost />}
      <div className="frame-all" inert={lost}>
        {isOpen ? <OpenSession /> : start === null ? <Opening /> : <StartScreen start={start} />}
      </div>
      {!lost && <DropLayer />}
    </>
  );
}

function Opening() {
  return (
    <main className="frame-opening">
      <Notices />
      <p role="status" className="faint">
        Partsong is opening …
      </p>
    </main>
  );
}

function OpenSession() {
  const helpOpen = useBench((state) => state.helpOpen);
  const isEmpty = useDesk((state) => state.view?.session.voices.length === 0);
  return (
    <div className={helpOpen ? 'frame frame-helped' : 'frame'}>
      <Header />
      <aside className="frame-side" aria-label="Running order and work">
        <RunningOrder />
        <JobsStrip />
      </aside>
      <main className="frame-main">
        <Notices />
        <Said />
        <SplitPanes
          upper={<Fence what="The score">{isEmpty ? <EmptySession /> : <Lanes />}</Fence>}
          lower={<BenchOf />}
        />
      </main>
      {helpOpen && <HelpPanel />}
      <div className="frame-transport">
        <Fence what="The playback">
          <Transport />
        </Fence>
      </div>
    </div>
  );
}
