import type { WorkPool } from '../../work/pool.ts';
import type { DrawSpectrogramRequest } from '../../work/tasks/draw-spectrogram.ts';

/** Pictures kept at hand, bytes of all together. */
const MOST_BYTES = 16_000_000;

/** Spectrograms drawn by the workers; those looked at last are kept. */
export class SpectrogramStore {
  readonly #kept = new Map<string, Promise<Uint8Array>>();
  readonly #sizes = new Map<string, number>();

  /** The spectrogram asked for. Rejects as the work does. */
  get(pool: WorkPool, request: DrawSpectrogramRequest): Promise<Uint8Array> {
    const key = JSON.stringify(request);
    const known = this.#kept.get(key);
    if (known !== undefined) {
      // Back to the end of the line.
      this.#kept.delete(key);
      this.#kept.set(key, known);
      return known;
    }
    const drawing = pool.run('drawSpectrogram', request);
    this.#kept.set(key, drawing);
    this.#sizes.set(key, request.columns * request.rows);
    this.#shrink();
    drawing.catch(() => this.#forget(key));
    return drawing;
  }

  clear(): void {
    this.#kept.clear();
    this.#sizes.clear();
  }

  #shrink(): void {
    let bytes = [...this.#sizes.values()].reduce((sum, size) => sum + size, 0);
    for (const key of this.#kept.keys()) {
      if (bytes <= MOST_BYTES || this.#kept.size === 1) return;
      bytes -= this.#sizes.get(key) ?? 0;
      this.#forget(key);
    }
  }

  #forget(key: string): void {
    this.#kept.delete(key);
    this.#sizes.delete(key);
  }
}
