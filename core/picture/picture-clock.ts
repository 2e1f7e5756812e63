import type { Clock } from '../signal/clock.ts';
import type { ClipPicture } from './clip-picture.ts';

/** By how much the picture of a clip ends before and after its sound, where nothing was lost, s. */
const MOST_BEFORE_SEC = 0.08;
const MOST_AFTER_SEC = 0.2;
/** A recorder drops some buffers, nobody cuts out so little, and the ends cannot tell of it, s. */
const SMALL_SEC = 0.1;

/**
 * The clock of a clip's picture, whose time is that of the container's stamps, for the clock of its sound, whose time is
 * counted in samples. They differ where the stamps run apart from the samples (`soundPpm`), and where the recorder lost or
 * doubled sound alone: pictures bear the time at which they were taken, and run on. Elsewhere it is the same clock.
 */
export function pictureClock(
  clock: Clock,
  picture: Pick<ClipPicture, 'endSec' | 'soundEndSec' | 'soundPpm'> | null,
): Clock {
  if (picture === null) return clock;
  const jumps = clock.bends?.some(({ jumpSec }) => jumpSec !== 0) ?? false;
  const run = jumps && jumpsInSoundAlone(clock, picture) ? withoutJumps(clock) : clock;
  const { soundPpm } = picture;
  if (soundPpm === undefined || soundPpm === 0) return run;
  const pace = 1 + soundPpm * 1e-6;
  const faster = (driftPpm: number): number => ((1 + driftPpm * 1e-6) * pace - 1) * 1e6;
  return {
    offsetSec: run.offsetSec,
    driftPpm: faster(run.driftPpm),
    ...(run.bends === undefined
      ? {}
      : {
          bends: run.bends.map((bend) => ({
            takeSec: bend.takeSec * pace,
            jumpSec: bend.jumpSec,
            driftPpm: faster(bend.driftPpm),
          })),
        }),
  };
}

/**
 * Whether a clip's picture does not jump with its sound: the ends of its streams are as far apart as the clock jumps, within what they
 * are in any clip. Else something was cut out of both. Small jumps are taken for the sound's.
 */
export function jumpsInSoundAlone(clock: Clock, picture: Pick<ClipPicture, 'endSec' | 'soundEndSec'>): boolean {
  const jumps = (clock.bends ?? []).map((bend) => bend.jumpSec);
  if (jumps.every((jumpSec) => Math.abs(jumpSec) <= SMALL_SEC)) return true;
  const jumpSec = jumps.reduce((sum, one) => sum + one, 0);
  if (picture.soundEndSec === undefined) return false;
  const apartSec = picture.endSec - picture.soundEndSec - jumpSec;
  return apartSec > -MOST_BEFORE_SEC && apartSec < MOST_AFTER_SEC;
}

/** In the picture's time what was lost of the sound has passed. */
function withoutJumps(clock: Clock): Clock {
  let passedSec = 0;
  let rate = 1 + clock.driftPpm * 1e-6;
  let last = Number.NEGATIVE_INFINITY;
  const bends = (clock.bends ?? []).map((bend) => {
    // Doubled sound is longer than what the picture has of it.
    last = Math.max(last, bend.takeSec + passedSec);
    passedSec += bend.jumpSec * rate;
    rate = 1 + bend.driftPpm * 1e-6;
    return { takeSec: last, jumpSec: 0, driftPpm: bend.driftPpm };
  });
  return { offsetSec: clock.offsetSec, driftPpm: clock.driftPpm, bends };
}
