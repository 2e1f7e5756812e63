/**
 * Versions of the steps whose results are cached. Raise one when its step gives another result for the same input: what
 * an older Partsong cached is then made anew.
 */
export const STEP_VERSION = {
  takeIn: 8,
  part: 1,
  clean: 3,
  mend: 1,
  wave: 1,
  measure: 1,
  soundFigures: 1,
  lineUp: 11,
  master: 1,
  join: 1,
  pitch: 9,
  /** What is found of notes that are known: matching, intonation, timing, all of `tuneFindings` and what it is made of. */
  tuning: 2,
  /** What `playedFigures` does beyond that: stretches that lie astray, and why a pitch is not measured. */
  played: 2,
  intonation: 3,
  picture: 1,
  proxy: 2,
  /** Blend, strips, room, limiter, and which part of a take counts as music: nothing of a mix is cached, but its render is remembered. */
  mix: 2,
} as const;

/** Versions of all that shapes how a mix sounds; a mix that others made is to be rendered again. */
export const SOUND_VERSIONS: readonly number[] = (
  ['takeIn', 'part', 'clean', 'mend', 'measure', 'join', 'master', 'mix'] as const
).map((step) => STEP_VERSION[step]);
