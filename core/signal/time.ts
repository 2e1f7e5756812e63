/** The rate of the session's clock, Hz. Mix frames count at this rate. */
export const SESSION_RATE_HZ = 48000;

/**
 * Frames nearest to a time in seconds. The one place where seconds become frames: it rounds,
 * because flooring `f / 48000 * 48000` is wrong for 6 % of the frames of a minute.
 */
export function secondsToFrames(seconds: number, rateHz: number): number {
  return Math.round(seconds * rateHz);
}

/** A time for people, s, as "1:23.4": minutes and seconds with so many digits; a true minus sign before negative ones. */
export function clockText(sec: number, digits = 0): string {
  const scale = 10 ** digits;
  const whole = Math.round(Math.abs(sec) * scale);
  const minutes = Math.floor(whole / (60 * scale));
  const rest = ((whole - minutes * 60 * scale) / scale).toFixed(digits).padStart(digits === 0 ? 2 : digits + 3, '0');
  return `${sec < 0 && whole > 0 ? '−' : ''}${minutes}:${rest}`;
}

/** Seconds of a frame count (may be fractional). */
export function framesToSeconds(frames: number, rateHz: number): number {
  return frames / rateHz;
}
