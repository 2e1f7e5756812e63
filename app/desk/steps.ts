/**
 * Versions of the steps whose results are cached. Raise one when its step gives another result for the same input: what
 * an older Partsong cached is then made anew.
 */
export const STEP_VERSION = { takeIn: 1, clean: 2 } as const;
