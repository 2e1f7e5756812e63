import { type RefObject, useLayoutEffect, useState } from 'react';

/** The height of the bench that an element lies in, CSS pixels: it changes as the user divides the window. */
export function useBenchHeight(inside: RefObject<Element | null>): number {
  const [height, setHeight] = useState(360);
  useLayoutEffect(() => {
    const bench = inside.current?.closest('.frame-bench');
    if (bench == null) return undefined;
    const take = (): void => setHeight(bench.clientHeight);
    take();
    const watcher = new ResizeObserver(take);
    watcher.observe(bench);
    return () => watcher.disconnect();
  }, [inside]);
  return height;
}
