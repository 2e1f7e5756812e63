import type { Bridge, WindowDoor } from '../../app/shell/contract/bridge.ts';
import { browserBridge } from './browser-bridge.ts';
import { windowBridge } from './window-bridge.ts';

declare global {
  interface Window {
    /** What the preload of the window puts here; absent in a browser. */
    readonly partsong?: WindowDoor;
  }
}

/** The door this page came through. */
export function openBridge(): Bridge {
  return window.partsong === undefined ? browserBridge() : windowBridge(window.partsong);
}
