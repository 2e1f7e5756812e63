import type { DeskView } from '../../app/shell/contract/desk-view.ts';
import { useBench } from '../desk/bench-store.ts';
import { useDesk } from '../desk/desk-store.ts';
import { takeAtHand } from '../steps/drawing/take-at-hand.ts';
import { type MixPlan, planMix } from './mix-plan.ts';
import { usePlayback } from './playback-state.ts';

type Takes = DeskView['takes'] | undefined;

/** What would sound just now, by the session and by what is heard alone. */
export class MixNow {
  readonly #laid = new Map<string, number>();

  /** undefined while no session is open. */
  plan(): MixPlan | undefined {
    const { view } = useDesk.getState();
    if (view === null) return undefined;
    const { alone, audition, loop } = usePlayback.getState();
    const { step, takeId } = useBench.getState();
    const inHand = step === 'clean' ? (takeAtHand(view.session, takeId)?.take.id ?? null) : null;
    return planMix(view, { alone, audition, loop, inHand }, (id) => this.#laid.get(id) ?? 0);
  }

  /** Counts takes that can be played again after they could not: their sound may be another one. */
  noteLaid(before: Takes, now: Takes): void {
    for (const [id, facts] of Object.entries(now ?? {})) {
      if (facts.playable && before?.[id]?.playable === false) this.#laid.set(id, (this.#laid.get(id) ?? 0) + 1);
    }
  }
}
