import type { StartView } from '../../app/shell/contract/desk-view.ts';
import type { DeskEvent } from '../../app/shell/contract/events.ts';

/**
 * Brings events and the answer to `begin` into one order: what comes while a begin is under way is held back until its
 * answer has been taken, and changes of the session that the answer holds already are passed over.
 */
export class EventGate {
  readonly #listeners = new Set<(event: DeskEvent) => void>();
  #held: DeskEvent[] = [];
  #begins = 0;

  onEvent(listener: (event: DeskEvent) => void): () => void {
    this.#listeners.add(listener);
    return () => this.#listeners.delete(listener);
  }

  take(event: DeskEvent): void {
    if (this.#begins > 0) this.#held.push(event);
    else for (const listener of this.#listeners) listener(event);
  }

  /** Runs a begin; the events held back follow after whoever waits for its answer has had it. */
  async begin(ask: () => Promise<StartView>): Promise<StartView> {
    this.#begins++;
    let known = -1;
    try {
      const start = await ask();
      known = start.desk?.revision ?? -1;
      return start;
    } finally {
      setTimeout(() => this.#release(known), 0);
    }
  }

  #release(known: number): void {
    this.#begins--;
    if (this.#begins > 0) return;
    const held = this.#held;
    this.#held = [];
    // After another session was opened its revisions count anew.
    let isKnown = true;
    for (const event of held) {
      if (event.kind === 'opened' || event.kind === 'closed') isKnown = false;
      const isChange = event.kind === 'edited' || event.kind === 'replaced';
      if (!(isKnown && isChange && event.revision <= known)) this.take(event);
    }
  }
}
