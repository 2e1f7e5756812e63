import type { Placement } from '../../../core/session/schema.ts';
import type { WorkPool } from '../../work/pool.ts';
import type { Cache } from '../cache.ts';
import type { Ledger } from './ledger.ts';

/** A slider on its way asks for much work; only where it comes to rest is worth it, ms. */
export const CALM_MS = 150;

/** What work on takes needs. */
export interface Bench {
  readonly ledger: Ledger;
  readonly cache: Cache;
  readonly pool: WorkPool;
  /** Placements against the guide that were found or read before, by their keys. */
  readonly placed: Map<string, Placement>;
  /** Keys of the cache entries that the session as it is now uses. */
  readonly used: Set<string>;
  /** Takes whose line-up is to be done anew whatever was found before. */
  readonly anew: Set<string>;
  /** The absolute path of a clip as the session keeps it. */
  fullPath(kept: string): string;
}

/** Marks cache entries as those to be kept. */
export function use(bench: Bench, ...keys: readonly string[]): void {
  for (const key of keys) bench.used.add(key);
}
