import type { DoorAnswer } from '../../../app/shell/contract/bridge.ts';
import type { CallName } from '../../../app/shell/contract/calls.ts';
import type { DeskView, JobView } from '../../../app/shell/contract/desk-view.ts';
import type { DeskEvent } from '../../../app/shell/contract/events.ts';
import type { DeskDoorHost, DoorMedia } from '../../../app/shell/door-host.ts';
import { emptySession } from '../../../core/session/schema.ts';

/** What a test's host was asked. */
export interface Asked {
  readonly name: CallName;
  readonly input: unknown;
}

/**
 * A host with nothing behind it: every call is noted and answered with its own name and input, 'undo' with a fault, 'redo'
 * with a defect. Media: 'wave/take-1/before/0' has 1000 bytes that count 0, 1, ..., 250, 0, ...; 'wave/none/before/0' none.
 */
export class SmallHost implements DeskDoorHost {
  readonly asked: Asked[] = [];
  readonly routes: string[] = [];
  readonly #listeners = new Set<(event: DeskEvent) => void>();
  folder: string | null = null;
  jobs: JobView[] = [];
  closed = false;

  async call(name: CallName, input: unknown): Promise<DoorAnswer> {
    this.asked.push({ name, input });
    if (name === 'redo') throw new Error('an inner secret at /secret/path');
    if (name === 'undo') {
      const fault = { code: 'bad-option', message: 'There is nothing to undo.', nextStep: 'Go on.', file: null };
      return { ok: false, fault };
    }
    return { ok: true, value: { name, input } };
  }

  onEvent(listener: (event: DeskEvent) => void): () => void {
    this.#listeners.add(listener);
    return () => this.#listeners.delete(listener);
  }

  tell(event: DeskEvent): void {
    for (const listener of this.#listeners) listener(event);
  }

  get listeners(): number {
    return this.#listeners.size;
  }

  async media(route: string): Promise<DoorMedia | null> {
    this.routes.push(route);
    if (route.startsWith('wave/none')) return null;
    const totalBytes = route.startsWith('wave/long') ? 64 * 2 ** 20 : route.startsWith('wave/empty') ? 0 : 1000;
    return {
      type: 'application/octet-stream',
      totalBytes,
      async *read(fromByte, toByte, stop) {
        for (let at = fromByte; at < toByte && !stop.aborted; at += 65536) {
          yield Uint8Array.from({ length: Math.min(65536, toByte - at) }, (_, n) => (at + n) % 251);
        }
      },
    };
  }

  view(): DeskView | null {
    if (this.folder === null) return null;
    const step = { state: 'toDo', busy: false, sentence: '' } as const;
    return {
      folder: this.folder,
      session: emptySession('Small'),
      revision: 7,
      undoLabel: null,
      redoLabel: null,
      saved: 'saved',
      recovered: null,
      takes: {},
      guide: null,
      blend: null,
      steps: {
        ...{ guide: step, soundCheck: step, takes: step, clean: step },
        ...{ lineUp: step, intonation: step, blend: step, picture: step, render: step },
      },
      jobs: this.jobs,
      render: null,
      madeGuide: null,
      madePicture: null,
      trials: [],
      intonation: null,
    };
  }

  async close(): Promise<void> {
    this.closed = true;
  }
}

/** A render that runs. */
export const renderJob: JobView = {
  id: 'job-1',
  kind: 'render',
  title: 'Rendering',
  fraction: 0.5,
  leftSec: 10,
  canStop: true,
};
