import { existsSync } from 'node:fs';
import { availableParallelism } from 'node:os';
import { fileURLToPath } from 'node:url';
import type Tinypool from 'tinypool';
import { type ControlMemory, controlOver, makeControlMemory, type Outcome, packed, unpacked } from './control.ts';
import { runTask, type TaskName, type TaskRequest, type TaskResult } from './tasks.ts';

/** How often progress is read from the shared memory, ms. */
const PROGRESS_EVERY_MS = 100;
/** A worker that has not looked at the stop flag after this long is ended by force, ms. */
const FORCE_AFTER_MS = 5000;
/**
 * Workers at most. Six takes of 10 min through the whole mix peaked at 223 MB with 2 workers, 269 MB with 3 and 376 MB
 * with 6; 300 MB are what Partsong allows itself.
 */
const MOST_THREADS = 3;
/**
 * An idle worker gives its memory back after this long, and garbage is swept in small heaps: together 323 MB became 223 MB
 * (2 workers) at the same CPU time, for the arrays that come and go lie outside V8's heap, which it does not count.
 */
const IDLE_MS = 1000;
const YOUNG_MB = 4;

/**
 * What the engine is told before workers start: to compile a function to its fastest form only after it ran for some time more. Each worker compiles anew
 * what is hot in it, mostly for a moment. Chosen by knowing six takes of 5 min, processor time of all that the process does: 23.6 s as the engine
 * has it (67,584 bytes of bytecode), 20.9, 21.5 and 21.5 s with 250,000, 500,000 and 1,000,000. Held out, six takes of 1 min: 10.7 and
 * 11.0 s became 8.9 and 9.8. Only engines on which it was measured are told: V8 11 (Node 20).
 */
export function engineFlag(v8Version: string): string | undefined {
  return v8Version.startsWith('11.') ? '--interrupt-budget=250000' : undefined;
}

/** How many workers there are to be: as many as cores, within the memory that is allowed. */
export function usualThreads(): number {
  return Math.min(MOST_THREADS, Math.max(1, availableParallelism()));
}

export interface RunOptions {
  readonly signal?: AbortSignal | undefined;
  /** fraction: 0 to 1. */
  readonly onProgress?: ((fraction: number) => void) | undefined;
}

/**
 * The worker threads in which core runs: started once, at most one a core. Where the bundled worker is not to be had
 * (tests that run the sources) tasks run in this thread.
 */
export class WorkPool {
  readonly threads: number;
  readonly #worker: string | undefined;
  #pool: Promise<Tinypool> | undefined;

  /** threads: 0 runs tasks in this thread, which spares a single task the start of another. */
  constructor(threads = usualThreads()) {
    const worker = fileURLToPath(new URL('./worker.js', import.meta.url));
    this.#worker = threads > 0 && existsSync(worker) ? worker : undefined;
    this.threads = this.#worker === undefined ? 1 : threads;
  }

  /** Runs one task. Rejects with PartsongError, CancelledError, or what the task threw. */
  async run<Name extends TaskName>(
    name: Name,
    request: TaskRequest<Name>,
    options: RunOptions = {},
  ): Promise<TaskResult<Name>> {
    const memory = makeControlMemory();
    const { signal, onProgress } = options;
    let force: NodeJS.Timeout | undefined;
    const stop = (): void => {
      Atomics.store(memory, 0, 1);
      force = setTimeout(() => void this.#pool?.then((pool) => pool.cancelPendingTasks()), FORCE_AFTER_MS);
      force.unref();
    };
    if (signal?.aborted) stop();
    signal?.addEventListener('abort', stop, { once: true });
    const watch =
      onProgress === undefined
        ? undefined
        : setInterval(() => onProgress(Atomics.load(memory, 1) / 1e6), PROGRESS_EVERY_MS);
    try {
      const outcome = await this.#start(name, request, memory);
      const value = unpacked(outcome);
      onProgress?.(1);
      return value;
    } finally {
      clearInterval(watch);
      clearTimeout(force);
      signal?.removeEventListener('abort', stop);
    }
  }

  /** Runs one task for each request, as many at a time as there are threads. The first fault stops the rest. */
  async runAll<Name extends TaskName>(
    name: Name,
    requests: readonly TaskRequest<Name>[],
    options: RunOptions = {},
  ): Promise<TaskResult<Name>[]> {
    const fractions = requests.map(() => 0);
    const stopRest = new AbortController();
    const signal = options.signal === undefined ? stopRest.signal : AbortSignal.any([options.signal, stopRest.signal]);
    const runs = requests.map((request, index) =>
      this.run(name, request, {
        signal,
        onProgress: (fraction) => {
          fractions[index] = fraction;
          options.onProgress?.(fractions.reduce((sum, one) => sum + one, 0) / Math.max(1, fractions.length));
        },
      }),
    );
    for (const run of runs) run.catch(() => stopRest.abort());
    const ends = await Promise.allSettled(runs);
    const failed = ends.filter((end) => end.status === 'rejected');
    const first = failed.find((end) => !isCancel(end.reason)) ?? failed[0];
    if (first !== undefined) throw first.reason;
    return ends.flatMap((end) => (end.status === 'fulfilled' ? [end.value] : []));
  }

  async close(): Promise<void> {
    await (await this.#pool)?.destroy();
  }

  async #start<Name extends TaskName>(
    name: Name,
    request: TaskRequest<Name>,
    memory: ControlMemory,
  ): Promise<Outcome<TaskResult<Name>>> {
    if (this.#worker === undefined) return packed(() => runTask(name, request, controlOver(memory, false)));
    this.#pool ??= startPool(this.#worker, this.threads);
    const pool = await this.#pool;
    return (await pool.run({ name, request, memory })) as Outcome<TaskResult<Name>>;
  }
}

/** Its code is loaded only where there are to be threads: loading costs 12 ms. */
async function startPool(worker: string, threads: number): Promise<Tinypool> {
  const [{ default: Pool }, { setFlagsFromString }] = await Promise.all([import('tinypool'), import('node:v8')]);
  const flag = engineFlag(process.versions.v8);
  if (flag !== undefined) setFlagsFromString(flag);
  return new Pool({
    filename: worker,
    runtime: 'worker_threads',
    minThreads: 0,
    maxThreads: threads,
    idleTimeout: IDLE_MS,
    resourceLimits: { maxYoungGenerationSizeMb: YOUNG_MB },
  });
}

function isCancel(reason: unknown): boolean {
  return reason instanceof Error && reason.name === 'CancelledError';
}
