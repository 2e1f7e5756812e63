/** What a TakeListener does to every sample and every frame. */

export { allocate } from '../../../signal/kernel/assembly/memory';
export { spectrumAt, splitsAt, twiddlesAt } from '../../../signal/fft/kernel/assembly/transform';
export {
  begin, countsAt, framesWaiting, inputAt, levelsAt, listen, peaksAt, stepsAt, tapsAt, takeFrames, takeTicks, ticksWaiting, windowAt,
} from './listen';
export { findRises } from './steps';
export { addLevels, partPairs, slowDown } from './sums';
export {
  frameWindowAt, hearFrames, heardAt, magnitudesAt, planFrames, quotientGroups, quotientsAt, riseFrames,
} from './beginnings';
export { likeliestLags } from './repeats';
