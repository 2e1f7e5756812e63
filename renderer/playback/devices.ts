import { tell } from '../desk/desk-store.ts';
import { usePlayback } from './playback-state.ts';
import type { Player } from './player.ts';
import { playerFaults } from './player-faults.ts';
/** Where sound can go, and why it cannot be chosen when it cannot. */
export interface DeviceList {
  readonly devices: readonly { readonly id: string; readonly label: string }[];
  readonly note: string | null;
}

const ELSEWHERE = 'Choose it in the sound settings of your system.';

/** The sound outputs that the page may use. The system's own choice has the id ''. */
export async function listDevices(): Promise<DeviceList> {
  const own = { id: '', label: 'The output your system uses' };
  if (!('setSinkId' in AudioContext.prototype)) {
    return { devices: [own], note: `This browser does not let a page choose the sound device. ${ELSEWHERE}` };
  }
  const found = (await navigator.mediaDevices?.enumerateDevices()) ?? [];
  const outputs = found.filter(
    (device) => device.kind === 'audiooutput' && !['', 'default', 'communications'].includes(device.deviceId),
  );
  if (outputs.length === 0) {
    return { devices: [own], note: `No other sound device is named to this page. ${ELSEWHERE}` };
  }
  const named = outputs.map(({ deviceId, label }, n) => ({ id: deviceId, label: label || `Sound device ${n + 1}` }));
  return { devices: [own, ...named], note: null };
}

/** Calls back when devices come or go; returns how to stop. */
export function onDevicesChange(listener: () => void): () => void {
  navigator.mediaDevices?.addEventListener('devicechange', listener);
  return () => navigator.mediaDevices?.removeEventListener('devicechange', listener);
}

/** Sends the sound to a device, and says when it does not take it. Before the sound is opened it is only noted. */
export async function chooseDevice(
  deviceId: string,
  output: { setDevice(id: string): Promise<void> } | undefined,
  player: Pick<Player, 'refreshDevices'>,
): Promise<void> {
  try {
    await output?.setDevice(deviceId);
    usePlayback.setState({ deviceId });
  } catch {
    tell(playerFaults.deviceRefused);
    await player.refreshDevices();
  }
}

/** Looks again which devices there are. When the chosen one is gone, the sound stops and goes back to the system's own. */
export async function keepDevices(player: Pick<Player, 'pause' | 'setDevice'>): Promise<void> {
  const { devices, note } = await listDevices();
  const { deviceId } = usePlayback.getState();
  usePlayback.setState({ devices, deviceNote: note });
  if (deviceId === '' || devices.some((device) => device.id === deviceId)) return;
  tell(playerFaults.deviceGone);
  player.pause();
  await player.setDevice('');
}
