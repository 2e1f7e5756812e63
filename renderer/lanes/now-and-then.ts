/**
 * Runs a function at most once in so many ms, always once more after the last wish: for what may lag a little behind the
 * hand, so that each frame has only the drawing to do. `stop` forgets a run that is due.
 */
export function nowAndThen(run: () => void, everyMs: number): { readonly wish: () => void; readonly stop: () => void } {
  let timer: ReturnType<typeof setTimeout> | undefined;
  let lastMs = Number.NEGATIVE_INFINITY;
  return {
    wish: () => {
      if (timer !== undefined) return;
      const waitMs = Math.max(0, lastMs + everyMs - performance.now());
      timer = setTimeout(() => {
        timer = undefined;
        lastMs = performance.now();
        run();
      }, waitMs);
    },
    stop: () => {
      clearTimeout(timer);
      timer = undefined;
    },
  };
}
