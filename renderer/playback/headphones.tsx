import { useEffect, useId } from 'react';
import { Slider } from '../parts/slider.tsx';
import { usePlayback } from './playback-state.ts';
import { thePlayer } from './the-player.ts';

/** How loud in the headphones, and which device; neither changes the mix. */
export function Headphones() {
  const volumeDb = usePlayback((state) => state.volumeDb);
  return (
    <div className="headphones">
      <Slider
        label="In the headphones"
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

function Devices() {
  const id = useId();
  const devices = usePlayback((state) => state.devices);
  const deviceId = usePlayback((state) => state.deviceId);
  const note = usePlayback((state) => state.deviceNote);
  useEffect(() => void thePlayer().refreshDevices(), []);
  if (note !== null) return <p className="headphones-note">{note}</p>;
  return (
    <div className="headphones-device">
      <label htmlFor={id}>Sound goes to</label>
      <select id={id} value={deviceId} onChange={(event) => void thePlayer().setDevice(event.target.value)}>
        {devices.map((device) => (
          <option key={device.id} value={device.id}>
            {device.label}
          </option>
        ))}
      </select>
    </div>
  );
}
