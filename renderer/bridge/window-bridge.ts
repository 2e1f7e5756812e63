import type { Bridge, WindowDoor } from '../../app/shell/contract/bridge.ts';
import { BridgeFault } from './bridge-fault.ts';
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
    isThere: async () => 'there',
    mediaUrl: (route) => new URL(`/media/${route}`, location.href).href,
    pathsOf: async (files, onProgress) => {
      const paths = files.map((file) => pathOf(door, file));
      onProgress(1);
      return paths;
    },
  };
}

/** What was dragged out of another program, such as a picture in a page, is no file of the disk. */
function pathOf(door: WindowDoor, file: File): string {
  const path = door.pathOf(file);
  if (path !== '') return path;
  throw new BridgeFault({
    code: 'file-missing',
    message: `${file.name} is no file of this computer's disk.`,
    nextStep: 'Save it as a file, then add that.',
    file: file.name,
  });
}
