import type { Cancel } from '../../core/signal/fault.ts';

/** How often the flag is looked at, ms. */
const LOOK_EVERY_MS = 50;

/** An AbortSignal that follows a stop flag in shared memory, for what runs asynchronously in a worker. */
export function signalOver(cancel: Cancel): { signal: AbortSignal; release(): void } {
  const controller = new AbortController();
  const look = (): void => {
    if (cancel.aborted) controller.abort();
  };
  look();
  const watch = setInterval(look, LOOK_EVERY_MS);
  return { signal: controller.signal, release: () => clearInterval(watch) };
}
