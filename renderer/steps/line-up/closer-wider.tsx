import { Button } from '../../parts/button.tsx';

/** How much is magnified, in words between its two buttons; null: no further that way. */
export function CloserWider(props: {
  readonly words: string;
  readonly onCloser: (() => void) | null;
  readonly onWider: (() => void) | null;
}) {
  const { words, onCloser, onWider } = props;
  return (
    <>
      <Button small disabled={onCloser === null} onClick={() => onCloser?.()}>
        Closer
      </Button>
      <span aria-live="polite">{words}</span>
      <Button small disabled={onWider === null} onClick={() => onWider?.()}>
        Wider
      </Button>
    </>
  );
}

/** The same where it is so much to each side of a moment, one of `halves`, s, the closest first. */
export function MagnifiedHalf(props: {
  readonly halves: readonly number[];
  readonly zoom: number;
  readonly onZoom: (zoom: number) => void;
}) {
  const { halves, zoom, onZoom } = props;
  return (
    <CloserWider
      words={`± ${halves[zoom]! * 1000} ms`}
      onCloser={zoom === 0 ? null : () => onZoom(zoom - 1)}
      onWider={zoom === halves.length - 1 ? null : () => onZoom(zoom + 1)}
    />
  );
}
