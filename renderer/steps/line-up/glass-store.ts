import { create } from 'zustand';

/** What lies under the glass in which a take is pinned. */
export interface GlassState {
  /** Whose moment it is; another take in hand begins with a moment of its own. */
  readonly takeId: string | null;
  /** The moment in the middle, session s; null: not chosen yet. */
  readonly atSec: number | null;
  /** How much later than its place the take is held for the pin that is about to be made, s. */
  readonly shiftSec: number;
}

export const useGlass = create<GlassState>(() => ({ takeId: null, atSec: null, shiftSec: 0 }));

/** Brings a moment of a take under the glass, session s. */
export function lookAt(takeId: string, atSec: number): void {
  useGlass.setState({ takeId, atSec, shiftSec: 0 });
}
