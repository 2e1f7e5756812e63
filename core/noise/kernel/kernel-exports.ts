/** Addresses are bytes in `memory`; counts of floats are multiples of 4. What each does stands in assembly/. */
export interface KernelExports {
  readonly memory: { readonly buffer: ArrayBuffer };
  allocate(bytes: number): number;
  plan(size: number, hop: number, callFrames: number, ringFrames: number, aheadFrames: number): number;
  analyse(plan: number, frames: number): number;
  synthesise(plan: number, frames: number): number;
  process(plan: number, frames: number): number;
  reset(plan: number): void;
  forwardOnce(plan: number): void;
  powerOnce(plan: number): void;
  inverseOnce(plan: number): void;
  clean(plan: number, steadiness: number, priorFloor: number, least: number, rule: number): number;
  cleanChunk(clean: number): number;
  resetClean(clean: number): void;
  levels(longest: number, stepFrames: number, steepness: number): number;
  levelsInput(levels: number): number;
  addLevels(levels: number, count: number): number;
  takePeak(levels: number): number;
  sum(x: number, count: number): number;
  dot(x: number, y: number, count: number): number;
  largest(x: number, count: number): number;
  log2Array(x: number, y: number, count: number): void;
  exp2Array(x: number, y: number, count: number): void;
}
