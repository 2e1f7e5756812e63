/** The gain stage between analysis and synthesis. */
import { gainOf, Plan, slotOf } from './plan';

/**
 * Called once for each frame, before its synthesis, with `plan.aheadFrames` later frames already analysed; it fills
 * the frame's gains. This one uses the same gains for all frames: `plan.gains`.
 */
export function gain(plan: Plan, frame: i32): void {
  memory.copy(gainOf(plan, slotOf(plan, frame)), plan.gains, <usize>plan.stride << 2);
}
