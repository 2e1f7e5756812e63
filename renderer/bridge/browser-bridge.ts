import type { Bridge } from '../../app/shell/contract/bridge.ts';

/** The desk over loopback. */
export function browserBridge(): Bridge {
  throw new Error('not built yet');
}
