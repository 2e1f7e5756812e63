/** Frames in and out of a plan: sliding input, ring of spectra, overlap-add. */
import { gain } from './gain';
import { Plan, slotOf } from './plan';
import { forward, inverse } from './real-fft';

/** Moves the N - hop newest samples to the front, where the next call expects them as history. */
function slide(at: usize, keep: i32, by: i32): void {
  memory.copy(at, at + (<usize>by << 2), <usize>keep << 2);
}

/** Frees the samples that were shown after the last call, and clears the room that the next frames will be added to. */
function openOutput(plan: Plan, frames: i32): void {
  const overlap = plan.size - plan.hop;
  if (plan.shown > 0) slide(plan.output, overlap, plan.shown);
  memory.fill(plan.output + (<usize>overlap << 2), 0, <usize>(frames * plan.hop) << 2);
  plan.shown = frames * plan.hop;
}

/** One new spectrum, from the frame that begins `at` hops into the input. */
// @ts-ignore: decorator
@inline function analyseOne(plan: Plan, at: i32): void {
  const x = plan.input + (<usize>(at * plan.hop) << 2);
  forward(plan, x, plan.analysisWindow, slotOf(plan, plan.analysed));
  plan.analysed++;
}

/** Adds the oldest spectrum not yet synthesised, `at` hops into the output. */
// @ts-ignore: decorator
@inline function synthesiseOne(plan: Plan, at: i32): void {
  const y = plan.output + (<usize>(at * plan.hop) << 2);
  inverse(plan, slotOf(plan, plan.synthesised), plan.synthesisWindow, y);
  plan.synthesised++;
}

/** Spectra of `frames` hops of new input. Returns the frames done: 0 when the call or the ring has no room for all. */
export function analyse(plan: Plan, frames: i32): i32 {
  if (frames < 1 || frames > plan.callFrames) return 0;
  if (plan.analysed - plan.synthesised + frames > plan.ringFrames) return 0;
  for (let i = 0; i < frames; i++) analyseOne(plan, i);
  slide(plan.input, plan.size - plan.hop, frames * plan.hop);
  return frames;
}

/** Applies the gains in the slots of the next `frames` frames and adds them up. Returns the frames done, or 0. */
export function synthesise(plan: Plan, frames: i32): i32 {
  if (frames < 1 || frames > plan.callFrames || frames > plan.analysed - plan.synthesised) return 0;
  openOutput(plan, frames);
  for (let i = 0; i < frames; i++) synthesiseOne(plan, i);
  return frames;
}

/**
 * The whole step for `frames` hops of new input: each frame is analysed, and once the analysis is more than
 * `aheadFrames` ahead the oldest frame gets its gains and is synthesised. Returns the frames synthesised: `frames`, but
 * aheadFrames fewer in all since the start; their samples lie at the output. -1 when the call has no room.
 */
export function process(plan: Plan, frames: i32): i32 {
  if (frames < 1 || frames > plan.callFrames) return -1;
  if (plan.analysed - plan.synthesised > plan.aheadFrames) return -1;
  const done = max(0, plan.analysed - plan.synthesised + frames - plan.aheadFrames);
  openOutput(plan, done);
  let made = 0;
  for (let i = 0; i < frames; i++) {
    analyseOne(plan, i);
    if (plan.analysed - plan.synthesised > plan.aheadFrames) {
      gain(plan, plan.synthesised);
      synthesiseOne(plan, made++);
    }
  }
  slide(plan.input, plan.size - plan.hop, frames * plan.hop);
  return done;
}

/** Back to the state after `plan`: no history, no sums, no frames. Windows, spectra and gains stay. */
export function reset(plan: Plan): void {
  const reach = <usize>(plan.size - plan.hop + plan.callFrames * plan.hop) << 2;
  memory.fill(plan.input, 0, reach);
  memory.fill(plan.output, 0, reach);
  plan.analysed = 0;
  plan.synthesised = 0;
  plan.shown = 0;
}
