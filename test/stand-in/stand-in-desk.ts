import type { DeskView } from '../../app/shell/contract/desk-view.ts';
import type { DeskEvent } from '../../app/shell/contract/events.ts';
import type { PitchReportView } from '../../app/shell/contract/intonation-view.ts';
import { editLabel } from '../../core/session/edit-label.ts';
import { beginHistory, doEdit, redo, type Step, undo } from '../../core/session/history.ts';
import type { Session } from '../../core/session/schema.ts';
import { withCases } from './stand-in-cases.ts';
import { inventedGuide, inventedTrials } from './stand-in-guide.ts';
import { inventedCurve, inventedIntonation } from './stand-in-intonation.ts';
import { inventedSession, withMore } from './stand-in-session.ts';
import { inventedView, outOfTune } from './stand-in-view.ts';

/** An invented session with its history, and whoever listens to what becomes of it. Query: see standInBridge. */
export class StandInDesk {
  readonly query: URLSearchParams;
  readonly lengthSec: number;
  readonly listeners = new Set<(event: DeskEvent) => void>();
  isOpen: boolean;
  revision = 1;
  #history: ReturnType<typeof beginHistory>;
  /** What follows from an edit after a while. */
  #following: ReturnType<typeof setTimeout> | undefined;
  #curvesOf: { readonly session: Session; readonly report: PitchReportView | null } | null = null;

  constructor(query: URLSearchParams) {
    this.query = query;
    this.lengthSec = Number(query.get('length') ?? 60);
    this.isOpen = !query.has('empty');
    const session = inventedSession(Number(query.get('voices') ?? 4));
    this.#history = beginHistory(withMore(session, Number(query.get('takes') ?? 1), query));
  }

  get session(): Session {
    return this.#history.present;
  }

  tellAll(event: DeskEvent): void {
    for (const listener of this.listeners) listener(event);
  }

  view(): DeskView {
    const { query, session, lengthSec } = this;
    const view = inventedView(session, lengthSec);
    return {
      ...withCases(view, query, lengthSec),
      madeGuide: query.has('bars') ? inventedGuide() : null,
      trials: query.has('trials') ? inventedTrials() : [],
      ...(query.has('pitch') ? { steps: { ...view.steps, intonation: outOfTune } } : {}),
      intonation: query.has('pitch') ? inventedIntonation(session, query.get('pitch'), lengthSec) : null,
      revision: this.revision,
      ...this.#labels(),
    };
  }

  edit({ edit, mergeKey, by, seq }: { edit: never; mergeKey: string | null; by: string; seq: number }): {
    revision: number;
  } {
    this.#history = doEdit(this.#history, edit, mergeKey ?? undefined);
    this.revision++;
    this.tellAll({ kind: 'edited', revision: this.revision, edit, by, seq, ...this.#labels() });
    this.#follow();
    return { revision: this.revision };
  }

  undo(): { revision: number } {
    return this.#move(undo(this.#history));
  }

  redo(): { revision: number } {
    return this.#move(redo(this.#history));
  }

  /** Where a voice's curve of the intonation lies. */
  curveUrl(route: string): string {
    const id = decodeURIComponent(/^pitch\/([^?]*)/.exec(route)![1]!);
    const { session } = this;
    if (this.#curvesOf?.session !== session) {
      this.#curvesOf = { session, report: inventedIntonation(session, null, this.lengthSec).report };
    }
    const { report } = this.#curvesOf;
    return URL.createObjectURL(new Blob(report === null ? [] : [inventedCurve(report, id)]));
  }

  #labels(): { undoLabel: string | null; redoLabel: string | null } {
    const { past, future, present } = this.#history;
    return { undoLabel: labelOf(past.at(-1), present), redoLabel: labelOf(future.at(-1), present) };
  }

  #move(next: ReturnType<typeof beginHistory>): { revision: number } {
    this.#history = next;
    this.revision++;
    this.tellAll({ kind: 'replaced', revision: this.revision, session: this.session, ...this.#labels() });
    this.#follow();
    return { revision: this.revision };
  }

  /** The blend follows an edit, and then what is heard mended. */
  #follow(): void {
    setTimeout(() => this.tellAll({ kind: 'parts', parts: { blend: this.view().blend } }), 50);
    if (!this.query.has('pitch')) return;
    clearTimeout(this.#following);
    this.#following = setTimeout(() => {
      const { takes } = this.view();
      for (const takeId of Object.keys(takes)) this.tellAll({ kind: 'take', takeId, facts: takes[takeId]! });
      const intonation = inventedIntonation(this.session, null, this.lengthSec);
      this.tellAll({ kind: 'parts', parts: { intonation } });
    }, 400);
  }
}

function labelOf(step: Step | undefined, present: Session): string | null {
  return step === undefined ? null : editLabel(step.edit, step.session, present);
}
