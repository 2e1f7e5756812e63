import { PartsongError, throwIfCancelled } from '../../../core/signal/fault.ts';
import type { JobView } from '../../shell/contract/desk-view.ts';
import { jobViews } from './job-views.ts';

/**
 * Stages of work, first ones first; `look` is light work that waits for nothing and is not shown. A waveform takes a moment
 * and is what the eye waits for, so it goes before the reading of the next clip.
 */
export const STAGES = [
  'look',
  'wave',
  'takeIn',
  'lineUp',
  'clean',
  'mend',
  'measure',
  'master',
  'picture',
  'proxy',
  'pitch',
] as const;
export type Stage = (typeof STAGES)[number];

/** Work that was stopped is waited for so long when all is closed, ms; after that its thread is ended. */
const PATIENCE_MS = 1500;

/** A piece of work that is wanted. Its key names everything that shapes its result. */
export interface Want<Value> {
  readonly key: string;
  readonly stage: Stage;
  /** The result where it is to be had at once. */
  readonly known?: () => Value | undefined;
  /** Key of the work it follows from: it belongs to the same wish, unless it was wished for just now. */
  readonly after?: string;
  /** Waits this long for being wanted no more (a fader on its way), ms. */
  readonly calmMs?: number;
  run(signal: AbortSignal, onProgress: (fraction: number) => void): Promise<Value>;
}

/** How a piece of work stands. */
export type Standing<Value> =
  | { readonly state: 'waiting' | 'running' | 'stopped' }
  | { readonly state: 'done'; readonly value: Value }
  | { readonly state: 'fault'; readonly fault: unknown };

export interface Entry {
  readonly key: string;
  readonly stage: Stage;
  readonly want: Want<unknown>;
  standing: Standing<unknown>;
  readonly wish: number;
  readonly order: number;
  round: number;
  fraction: number;
  notBeforeMs: number;
  stop: AbortController | undefined;
}

/**
 * The work that the session as it is now asks for. In rounds: `begin`, `need` for each piece in the order of its worth,
 * `end`. What a round does not need any more is stopped and forgotten; what is new is started, as many at a time as there
 * are workers: what the user wished last first, then by stage, then in the order asked for. Since keys name all that shapes
 * a result, nothing else tells new from old.
 */
export class Ledger {
  readonly #slots: number;
  readonly #onMove: (key: string) => void;
  readonly #entries = new Map<string, Entry>();
  readonly #views = jobViews();
  #round = 0;
  #wish = 0;
  /** This round is the first after a wish. */
  #isWished = false;
  #order = 0;
  #busy = 0;
  #closed = false;
  #timer: NodeJS.Timeout | undefined;
  /** By key, so that work on the same files waits until what was stopped has let go of them. */
  readonly #running = new Map<string, Promise<void>>();

  /** slots: pieces at work at a time. onMove: called when a piece began or ended. */
  constructor(slots: number, onMove: (key: string) => void) {
    this.#slots = slots;
    this.#onMove = onMove;
  }

  /**
   * The user did something: what is asked for from here on comes first, and what was stopped, or failed for want of room
   * and the like, is tried again.
   */
  wish(): void {
    this.#wish++;
    this.#isWished = true;
    for (const { key, standing } of this.#entries.values()) {
      const isFailed = standing.state === 'fault' && !(standing.fault instanceof PartsongError);
      if (standing.state === 'stopped' || isFailed) this.#entries.delete(key);
    }
  }

  /** Forgets how pieces ended whose keys begin so: they are done anew. */
  forget(keyStart: string): void {
    for (const entry of this.#entries.values()) {
      if (entry.key.startsWith(keyStart)) this.#drop(entry);
    }
  }

  begin(): void {
    this.#round++;
    this.#order = 0;
  }

  need<Value>(want: Want<Value>): Standing<Value> {
    let entry = this.#entries.get(want.key);
    if (entry === undefined) {
      entry = this.#enter(want);
      this.#entries.set(want.key, entry);
    }
    entry.round = this.#round;
    return entry.standing as Standing<Value>;
  }

  end(): void {
    this.#isWished = false;
    for (const entry of this.#entries.values()) {
      if (entry.round !== this.#round) this.#drop(entry);
    }
    this.#startNext();
  }

  /** Whether a piece of this stage waits or runs. */
  isBusy(...stages: readonly Stage[]): boolean {
    for (const { stage, standing } of this.#entries.values()) {
      if (stages.includes(stage) && (standing.state === 'waiting' || standing.state === 'running')) return true;
    }
    return false;
  }

  /** Whether the user stopped a piece that is still wanted. */
  get hasStopped(): boolean {
    return [...this.#entries.values()].some(({ standing }) => standing.state === 'stopped');
  }

  /** The work under way, for people; `look` is left out. */
  jobs(): JobView[] {
    return this.#views.of([...this.#entries.values()]);
  }

  /** Stops the work of a job until the user does something else; false when there is no such job. */
  stop(jobId: string): boolean {
    const stage = this.#views.stageOf(jobId);
    if (stage === undefined) return false;
    for (const entry of this.#entries.values()) {
      const { state } = entry.standing;
      if (entry.stage !== stage || (state !== 'waiting' && state !== 'running')) continue;
      entry.stop?.abort();
      entry.standing = { state: 'stopped' };
      this.#onMove(entry.key);
    }
    return true;
  }

  /** Stops everything and waits a little until nothing runs; false when something still does. */
  async close(): Promise<boolean> {
    this.#closed = true;
    clearTimeout(this.#timer);
    for (const entry of this.#entries.values()) entry.stop?.abort();
    this.#entries.clear();
    let patience: NodeJS.Timeout | undefined;
    const late = new Promise<boolean>((resolve) => {
      patience = setTimeout(() => resolve(false), PATIENCE_MS);
    });
    const ended = Promise.all(this.#running.values()).then(() => true);
    try {
      return await Promise.race([ended, late]);
    } finally {
      clearTimeout(patience);
    }
  }

  #enter<Value>(want: Want<Value>): Entry {
    const value = want.known?.();
    const older = want.after === undefined || this.#isWished ? undefined : this.#entries.get(want.after);
    return {
      key: want.key,
      stage: want.stage,
      want,
      standing: value === undefined ? { state: 'waiting' } : { state: 'done', value },
      wish: older?.wish ?? this.#wish,
      order: this.#order++,
      round: this.#round,
      fraction: 0,
      notBeforeMs: Date.now() + (want.calmMs ?? 0),
      stop: undefined,
    };
  }

  #drop(entry: Entry): void {
    entry.stop?.abort();
    this.#entries.delete(entry.key);
  }

  #startNext(): void {
    if (this.#closed) return;
    clearTimeout(this.#timer);
    const nowMs = Date.now();
    const waiting = [...this.#entries.values()].filter(({ standing }) => standing.state === 'waiting').sort(firstOf);
    let soonestMs = Number.POSITIVE_INFINITY;
    for (const entry of waiting) {
      if (entry.notBeforeMs > nowMs) soonestMs = Math.min(soonestMs, entry.notBeforeMs);
      else if (entry.stage === 'look') this.#start(entry);
      else if (this.#busy < this.#slots) this.#start(entry);
    }
    if (Number.isFinite(soonestMs)) this.#timer = setTimeout(() => this.#startNext(), soonestMs - nowMs);
  }

  #start(entry: Entry): void {
    const stop = new AbortController();
    entry.stop = stop;
    entry.standing = { state: 'running' };
    const counts = entry.stage !== 'look';
    if (counts) this.#busy++;
    const older = this.#running.get(entry.key);
    const run = this.#carryOut(entry, stop.signal, older).finally(() => {
      if (this.#running.get(entry.key) === run) this.#running.delete(entry.key);
      if (counts) this.#busy--;
      // First it is looked what follows from its end (a waveform, which is quick), then the next is begun.
      setImmediate(() => this.#startNext());
    });
    this.#running.set(entry.key, run);
  }

  async #carryOut(entry: Entry, signal: AbortSignal, older: Promise<void> | undefined): Promise<void> {
    let standing: Standing<unknown>;
    try {
      await older;
      throwIfCancelled(signal);
      const value = await entry.want.run(signal, (fraction) => {
        entry.fraction = fraction;
      });
      standing = { state: 'done', value };
    } catch (fault) {
      standing = { state: 'fault', fault };
    }
    if (this.#closed || this.#entries.get(entry.key) !== entry || signal.aborted) return;
    entry.standing = standing;
    this.#onMove(entry.key);
  }
}

function firstOf(one: Entry, other: Entry): number {
  return other.wish - one.wish || STAGES.indexOf(one.stage) - STAGES.indexOf(other.stage) || one.order - other.order;
}
