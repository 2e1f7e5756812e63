import { useEffect, useRef } from 'react';
import { SESSION_RATE_HZ } from '../../core/signal/time.ts';
import { useBench } from '../desk/bench-store.ts';
import { useDesk } from '../desk/desk-store.ts';
import { addShortcuts } from '../help/shortcuts.ts';
import { Button } from '../parts/button.tsx';
import { clock } from '../parts/numbers.ts';
import { StateSign } from '../parts/state-sign.tsx';
import { voiceColour } from '../parts/voice-colours.ts';
import { hearAloneOrNot, playbackShortcuts, playOrStop, repeatOrNot, toStart } from './commands.ts';
import { openToChecks } from './for-checks.ts';
import { Headphones } from './headphones.tsx';
import { HeardLevels } from './heard-levels.tsx';
import { PlayClock } from './play-clock.tsx';
import { usePlayback } from './playback-state.ts';
import { thePlayer } from './the-player.ts';
import './transport.css';

/** Playback, along the bottom of the frame: play, where it is, what is repeated and heard alone, how loud, and where to. */
export function Transport() {
  useEffect(() => addShortcuts('Playback', playbackShortcuts), []);
  useEffect(openToChecks, []);
  const isRead = usePlayback((state) => state.cautionRead);
  return (
    <section className="transport" aria-label="Playback">
      <PlayButtons />
      <PlayClock />
      <Caution />
      {isRead && <Repeat />}
      <HeardAlone />
      <div className="transport-end">
        {isRead && <HeardLevels />}
        <Headphones />
      </div>
    </section>
  );
}

/** Stands in the row of the controls, where the levels stand later, so that it takes no height from the lanes. */
function Caution() {
  const own = useRef<HTMLDivElement>(null);
  const putAway = (): void => {
    // The button goes with it: the next thing to do takes the focus.
    own.current?.closest('.transport')?.querySelector<HTMLElement>('.transport-play')?.focus();
    thePlayer().readCaution();
  };
  const isRead = usePlayback((state) => state.cautionRead);
  if (isRead) return null;
  return (
    <div className="transport-caution" ref={own} role="note" aria-label="Before you listen">
      <StateSign state="lookHere" />
      <p id="transport-caution">
        The sound starts low: press Play before you put your headphones on, then raise the level slowly.
      </p>
      <Button small onClick={putAway}>
        I have read this
      </Button>
    </div>
  );
}

function PlayButtons() {
  const playing = usePlayback((state) => state.playing);
  const isRead = usePlayback((state) => state.cautionRead);
  return (
    <div className="transport-group">
      <Button
        kind="main"
        className="transport-play"
        aria-describedby={isRead ? undefined : 'transport-caution'}
        onClick={playOrStop}
      >
        <svg viewBox="0 0 12 12" aria-hidden="true">
          <path d={playing ? 'M1.5 1.5h9v9h-9z' : 'M2 1l9 5-9 5z'} />
        </svg>
        {playing ? 'Stop' : 'Play'}
      </Button>
      <Button onClick={toStart}>To the start</Button>
    </div>
  );
}

function Repeat() {
  const loop = usePlayback((state) => state.loop);
  const stretch = useBench((state) => state.stretch);
  const named = loop ?? null;
  return (
    <div className="transport-group">
      <Button
        aria-pressed={loop !== null}
        disabled={loop === null && stretch === null}
        title={
          stretch === null && loop === null
            ? 'Select a stretch in a lane first'
            : 'The selected stretch, again and again'
        }
        onClick={repeatOrNot}
      >
        Repeat
      </Button>
      {named !== null && (
        <span className="transport-span">
          {clock(named.fromFrame / SESSION_RATE_HZ)} to {clock(named.toFrame / SESSION_RATE_HZ)}
        </span>
      )}
    </div>
  );
}

function HeardAlone() {
  const alone = usePlayback((state) => state.alone);
  const voices = useDesk((state) => state.view?.session.voices);
  const heard = voices?.filter((voice) => alone.includes(voice.id)) ?? [];
  if (heard.length === 0) return null;
  return (
    <ul className="transport-alone" aria-label="Heard alone">
      <li className="transport-alone-word">heard alone</li>
      {heard.map((voice) => (
        <li key={voice.id}>
          <Button
            small
            aria-label={`${voice.name} is heard alone; let the others sound again`}
            onClick={() => hearAloneOrNot(voice.id)}
          >
            <span className="transport-chip" style={{ background: voiceColour(voice.colour) }} aria-hidden="true" />
            {voice.name}
            <span aria-hidden="true">×</span>
          </Button>
        </li>
      ))}
    </ul>
  );
}
