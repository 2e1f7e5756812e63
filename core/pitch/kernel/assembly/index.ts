/**
 * What the tracker calls. The ear alone: `plan`, then the calls from `steps` on. With all that follows the pitch: `prepare`, then `plan`,
 * then `follow` and `followEnd`. Where notes may begin: `planBegins`, then `findBegins`. An instance does one of these, for one take. Addresses are
 * bytes in memory.
 */
export { add, dipCount, flush, forget, forgetSlow, lookAt, plan, rest, slowCount, steps } from './ear';
export { follow, followEnd, heardNeeded, prepare } from './follow';
export { findBegins, planBegins } from './begins';
