import { Lanes } from '../lanes/lanes.tsx';

/** The frame of the screen: running order, lanes, bench, transport. */
export function Frame() {
  return <Lanes />;
}
