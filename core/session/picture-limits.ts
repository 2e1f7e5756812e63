/** The longest title card, s. */
export const LONGEST_TITLE_SEC = 60;
/** The longest fade from or to black, s. */
export const LONGEST_FADE_SEC = 20;
