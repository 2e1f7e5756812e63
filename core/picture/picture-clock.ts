import type { Clock } from '../signal/clock.ts';
import type { ClipPicture } from './clip-picture.ts';

/** A jump is the sound's alone when the ends of both streams lie this near to it, s, and as a share of it. */
const NEAR_SEC = 0.04;
const NEAR_SHARE = 0.4;
/** Jumps that come to less tell nothing: streams end some 0.03 s apart by themselves, s. */
const TELLING_SEC = 0.05;

/**
 * The clock of a clip's picture, whose time is that of the container's stamps, for the clock of its sound, whose time is
 * counted in samples. They differ where the stamps run apart from the samples (`soundPpm`), and where the recorder lost or
 * doubled sound alone: then the sound's stream ends as much earlier or later than the picture's as its clock jumps, and
 * the picture runs on. Elsewhere it is the same clock.
 */
export function pictureClock(
  clock: Clock,
  picture: Pick<ClipPicture, 'endSec' | 'soundEndSec' | 'soundPpm'> | null,
): Clock {
  if (picture === null) return clock;
  const run = jumpsInSoundAlone(clock, picture) ? withoutJumps(clock) : clock;
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

/** Whether the ends of a clip's streams show that its picture does not jump with its sound. */
export function jumpsInSoundAlone(clock: Clock, picture: Pick<ClipPicture, 'endSec' | 'soundEndSec'>): boolean {
  const jumpSec = (clock.bends ?? []).reduce((sum, bend) => sum + bend.jumpSec, 0);
  if (picture.soundEndSec === undefined || Math.abs(jumpSec) < TELLING_SEC) return false;
  const apartSec = picture.endSec - picture.soundEndSec;
  return Math.abs(apartSec - jumpSec) < Math.min(NEAR_SEC, NEAR_SHARE * Math.abs(jumpSec));
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
