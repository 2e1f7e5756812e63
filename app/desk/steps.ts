/**
 * Versions of the steps whose results are cached. Raise one when its step gives another result for the same input: what
 * an older Partsong cached is then made anew.
 */
export const STEP_VERSION = {
  takeIn: 7,
  part: 1,
  clean: 3,
  mend: 1,
  wave: 1,
  measure: 1,
  lineUp: 4,
  master: 1,
  join: 1,
  pitch: 6,
  intonation: 2,
  picture: 1,
  proxy: 2,
} as const;
