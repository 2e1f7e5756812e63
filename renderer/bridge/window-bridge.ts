import type { Bridge, WindowDoor } from '../../app/shell/contract/bridge.ts';
import { callFunctions } from './call-functions.ts';
import { EventGate } from './event-gate.ts';

/** The desk through the window's preload. It lives as long as the window, so it is never lost. */
export function windowBridge(door: WindowDoor): Bridge {
  const gate = new EventGate();
  door.onEvent((event) => gate.take(event));
  return {
    door: 'window',
    calls: callFunctions((name, input) => door.calls[name](input), gate),
    onEvent: (listener) => gate.onEvent(listener),
    onLost: () => () => undefined,
    mediaUrl: (route) => new URL(`/media/${route}`, location.href).href,
    pathsOf: async (files, onProgress) => {
      const paths = files.map((file) => door.pathOf(file));
      onProgress(1);
      return paths;
    },
  };
}
