/** The rate of the session's clock, Hz. Mix frames count at this rate. */
export const SESSION_RATE_HZ = 48000;

/**
 * Frames nearest to a time in seconds. The one place where seconds become frames: it rounds,
 * because flooring `f / 48000 * 48000` is wrong for 6 % of the frames of a minute.
 */
export function secondsToFrames(seconds: number, rateHz: number): number {
  return Math.round(seconds * rateHz);
}

/** Seconds of a frame count (may be fractional). */
export function framesToSeconds(frames: number, rateHz: number): number {
  return frames / rateHz;
}
