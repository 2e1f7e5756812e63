/** 20 log10 of a linear amplitude ratio. 0 gives -Infinity. */
export function ratioToDb(ratio: number): number {
  return 20 * Math.log10(ratio);
}

/** Linear amplitude ratio of a level in dB. -Infinity gives 0. */
export function dbToRatio(db: number): number {
  return 10 ** (db / 20);
}

/** 10 log10 of a power ratio. 0 gives -Infinity. */
export function powerToDb(power: number): number {
  return 10 * Math.log10(power);
}

/** Power ratio of a level in dB. -Infinity gives 0. */
export function dbToPower(db: number): number {
  return 10 ** (db / 10);
}
