import type { DoorAnswer, WindowDoor } from '../contract/bridge.ts';
import { plainCallNames } from '../contract/call-names.ts';
import type { DeskEvent } from '../contract/events.ts';
import { channelOf, EVENT_CHANNEL } from './channels.ts';

/** What the preload needs of Electron. */
export interface PreloadSystem {
  readonly ipcRenderer: {
    invoke(channel: string, input: unknown): Promise<unknown>;
    on(channel: string, listener: (event: unknown, ...values: unknown[]) => void): unknown;
  };
  readonly webUtils: { getPathForFile(file: File): string };
}

/** The one door from the page to the program: a function a call, one for events, one for the paths of files. */
export function preloadDoor({ ipcRenderer, webUtils }: PreloadSystem): WindowDoor {
  const listeners = new Set<(event: DeskEvent) => void>();
  // Electron's own event stays here: it would hand the page a way to send anything.
  ipcRenderer.on(EVENT_CHANNEL, (_event, value) => {
    for (const listener of listeners) listener(value as DeskEvent);
  });
  const calls = Object.fromEntries(
    plainCallNames.map((name) => [
      name,
      (input: unknown) => ipcRenderer.invoke(channelOf(name), input) as Promise<DoorAnswer>,
    ]),
  ) as unknown as WindowDoor['calls'];
  return {
    calls,
    onEvent(listener) {
      listeners.add(listener);
      return () => listeners.delete(listener);
    },
    pathOf: (file) => webUtils.getPathForFile(file),
  };
}
