import type { JobView } from '../../shell/contract/desk-view.ts';

/** Work that a user asks for by itself, beside what follows from the session: a render, a guide, a trial, a video ... */
export interface SideWork {
  /** What it is at now. */
  jobs(): readonly JobView[];
  /** False when the job is none of its own. */
  stop(jobId: string): boolean;
  /** Stops everything; settles when it has stopped. */
  close(): Promise<void>;
  /** What it keeps in the session's cache. */
  usedKeys(): readonly string[];
}

/** All side work of a session as one, so that whoever adds a kind tells it in one place. */
export class SideWorks implements SideWork {
  readonly #works: readonly SideWork[];

  constructor(works: readonly SideWork[]) {
    this.#works = works;
  }

  jobs(): JobView[] {
    return this.#works.flatMap((work) => work.jobs());
  }

  stop(jobId: string): boolean {
    return this.#works.some((work) => work.stop(jobId));
  }

  async close(): Promise<void> {
    await Promise.all(this.#works.map((work) => work.close()));
  }

  usedKeys(): string[] {
    return this.#works.flatMap((work) => work.usedKeys());
  }
}
