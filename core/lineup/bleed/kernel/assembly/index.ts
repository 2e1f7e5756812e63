/**
 * What looking for leakage and for common beginnings of notes does most, in double precision: the same sums in the same order as the plain forms that
 * each docstring names, which are the oracles, so that the results are the same to the last bit. Addresses are bytes in memory.
 */

export { allocate, widen } from '../../../../signal/kernel/assembly/memory';
export { goOn, placeOfHighest } from './path';
export { readBetween } from './read';
export { addCubic, addShifted, highestAlong, sumOnLine } from './rows';
export { addCrossed, compareOnsets, highestPeaks, setMiddles, sumBand } from './rises';
export { smoothPower, weighCross } from './spectra';
