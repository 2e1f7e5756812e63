import { useId, useRef } from 'react';
import { beside } from '../parts/beside.ts';
import { Button } from '../parts/button.tsx';
import { Slider } from '../parts/slider.tsx';
import { usePlayback } from './playback-state.ts';
import { thePlayer } from './the-player.ts';

/** How loud in the headphones, and which device; neither changes the mix. */
export function Headphones() {
  const volumeDb = usePlayback((state) => state.volumeDb);
  return (
    <div className="headphones">
      <Slider
        label="Level in the headphones"
        value={volumeDb}
        min={-60}
        max={0}
        step={1}
        digits={0}
        unit="dB"
        onChange={(value) => thePlayer().setVolume(value)}
      />
      <Devices />
    </div>
  );
}

/** Which device the sound goes to; opens above its button. */
function Devices() {
  const id = useId();
  const field = useId();
  const button = useRef<HTMLButtonElement>(null);
  const box = useRef<HTMLDivElement>(null);
  const devices = usePlayback((state) => state.devices);
  const deviceId = usePlayback((state) => state.deviceId);
  const note = usePlayback((state) => state.deviceNote);
  return (
    <>
      <Button small ref={button} popoverTarget={id} className="headphones-button">
        Sound device
      </Button>
      <div
        ref={box}
        id={id}
        popover="auto"
        className="headphones-device"
        onToggle={(event) => {
          if (event.newState !== 'open' || box.current === null || button.current === null) return;
          beside(box.current, button.current);
          void thePlayer().refreshDevices();
        }}
      >
        <label htmlFor={field}>The sound goes to</label>
        <select
          id={field}
          value={deviceId}
          disabled={devices.length < 2}
          onChange={(event) => void thePlayer().setDevice(event.target.value)}
        >
          {devices.map((device) => (
            <option key={device.id} value={device.id}>
              {device.label}
            </option>
          ))}
        </select>
        {note !== null && <p className="headphones-note">{note}</p>}
      </div>
    </>
  );
}
