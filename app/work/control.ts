import { type Cancel, CancelledError, PartsongError } from '../../core/signal/fault.ts';

/** What a task is given besides its request: a flag to look at now and then, and a way to tell how far it is. */
export interface TaskControl {
  readonly cancel: Cancel;
  /** fraction: 0 to 1. */
  onProgress(fraction: number): void;
  /**
   * To be awaited once a block: lets the thread do other things now and then (hear Ctrl-C) where the task does not have
   * a thread of its own.
   */
  breathe(): Promise<void> | undefined;
}

/** Shared memory between the desk and a worker: slot 0 the stop flag, slot 1 progress in millionths. */
export type ControlMemory = Int32Array<SharedArrayBuffer>;

export function makeControlMemory(): ControlMemory {
  return new Int32Array(new SharedArrayBuffer(8));
}

/** A task in the main thread lets go of it this often, ms. */
const BREATHE_EVERY_MS = 40;

/** The task's end of the shared memory. ownThread: whether it has a thread to itself. */
export function controlOver(memory: ControlMemory, ownThread: boolean): TaskControl {
  let breathedAt = Date.now();
  return {
    breathe() {
      if (ownThread || Date.now() - breathedAt < BREATHE_EVERY_MS) return undefined;
      return new Promise((resolve) => {
        setImmediate(() => {
          breathedAt = Date.now();
          resolve();
        });
      });
    },
    cancel: {
      get aborted() {
        return Atomics.load(memory, 0) !== 0;
      },
    },
    onProgress(fraction) {
      Atomics.store(memory, 1, Math.round(Math.min(1, Math.max(0, fraction)) * 1e6));
    },
  };
}

/** How a task ended, in a form that crosses threads whole. */
export type Outcome<Value> =
  | { kind: 'done'; value: Value }
  | { kind: 'cancelled' }
  /** An error of the system, such as a full disk: who knows what was being made puts it into words. */
  | { kind: 'system'; code: string; path: string | undefined; message: string }
  | { kind: 'fault'; code: PartsongError['code']; message: string; nextStep: string; file: string | undefined };

/** Runs a task and packs its end; what is neither a fault of the world nor a cancel stays an exception. */
export async function packed<Value>(run: () => Promise<Value>): Promise<Outcome<Value>> {
  try {
    return { kind: 'done', value: await run() };
  } catch (error) {
    if (error instanceof CancelledError) return { kind: 'cancelled' };
    if (error instanceof PartsongError) {
      return { kind: 'fault', code: error.code, message: error.message, nextStep: error.nextStep, file: error.file };
    }
    const system = systemErrorOf(error);
    if (system !== undefined) return { kind: 'system', ...system };
    throw error;
  }
}

function systemErrorOf(error: unknown): { code: string; path: string | undefined; message: string } | undefined {
  if (!(error instanceof Error) || !('code' in error) || typeof error.code !== 'string') return undefined;
  if (!('syscall' in error)) return undefined;
  const path = 'path' in error && typeof error.path === 'string' ? error.path : undefined;
  return { code: error.code, path, message: error.message };
}

/** The value of an outcome, or its fault thrown. */
export function unpacked<Value>(outcome: Outcome<Value>): Value {
  switch (outcome.kind) {
    case 'done':
      return outcome.value;
    case 'cancelled':
      throw new CancelledError();
    case 'system':
      throw Object.assign(new Error(outcome.message), { code: outcome.code, path: outcome.path });
    case 'fault':
      throw new PartsongError(outcome.code, outcome.message, outcome.nextStep, outcome.file);
  }
}
