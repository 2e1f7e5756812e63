import { type RefObject, useEffect, useLayoutEffect, useRef, useState } from 'react';

/** The width of an element as it is laid out, CSS pixels; `first` until it is known. */
export function useWidth<Kind extends Element>(first: number): [RefObject<Kind | null>, number] {
  const ref = useRef<Kind | null>(null);
  const [width, setWidth] = useState(first);
  useLayoutEffect(() => {
    const element = ref.current;
    if (element === null) return;
    const watcher = new ResizeObserver(([entry]) => {
      if (entry !== undefined && entry.contentRect.width > 0) setWidth(Math.round(entry.contentRect.width));
    });
    watcher.observe(element);
    return () => watcher.disconnect();
  }, []);
  return [ref, width];
}

/** The height of the window, CSS pixels. */
export function useWindowHeight(): number {
  const [height, setHeight] = useState(() => window.innerHeight);
  useEffect(() => {
    const take = (): void => setHeight(window.innerHeight);
    window.addEventListener('resize', take);
    return () => window.removeEventListener('resize', take);
  }, []);
  return height;
}

/** Counts changes of the theme, for pictures that are painted with its colours. */
export function useThemeTurn(): number {
  const [turn, setTurn] = useState(0);
  useEffect(() => {
    const next = (): void => setTurn((before) => before + 1);
    const watcher = new MutationObserver(next);
    watcher.observe(document.documentElement, { attributes: true, attributeFilter: ['data-theme', 'class'] });
    const night = matchMedia('(prefers-color-scheme: dark)');
    night.addEventListener('change', next);
    return () => {
      watcher.disconnect();
      night.removeEventListener('change', next);
    };
  }, []);
  return turn;
}

/** A colour of the theme as it is now, such as '--ink'. */
export function themeColour(name: string): string {
  return getComputedStyle(document.documentElement).getPropertyValue(name).trim();
}

/** Makes a canvas as fine as the screen and gives its pen in CSS pixels; undefined where there is none. */
export function penOf(canvas: HTMLCanvasElement, width: number, height: number): CanvasRenderingContext2D | undefined {
  const fine = Math.min(3, window.devicePixelRatio || 1);
  if (canvas.width !== Math.round(width * fine)) canvas.width = Math.round(width * fine);
  if (canvas.height !== Math.round(height * fine)) canvas.height = Math.round(height * fine);
  const pen = canvas.getContext('2d');
  if (pen === null) return undefined;
  pen.setTransform(fine, 0, 0, fine, 0, 0);
  pen.clearRect(0, 0, width, height);
  return pen;
}
