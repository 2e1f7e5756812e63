import type { Bridge } from '../../app/shell/contract/bridge.ts';
import type { ReadStretch } from './feeder.ts';

/** Reads sources ("ID:before", "ID:after") from the desk, laid on the session's time line. */
export function readStretch(bridge: Pick<Bridge, 'mediaUrl'>, sources: readonly string[]): ReadStretch {
  const names = sources.map(encodeURIComponent).join(',');
  return async (fromFrame, frames, cancel) => {
    const route = `stretch?from=${fromFrame}&frames=${frames}&sources=${names}`;
    const answer = await fetch(bridge.mediaUrl(route), { signal: cancel });
    if (!answer.ok) throw new Error(`the desk answered ${answer.status}`);
    return new Float32Array(await answer.arrayBuffer());
  };
}
