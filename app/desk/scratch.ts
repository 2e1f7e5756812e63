import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { WorkPool } from '../work/pool.ts';
import { Cache } from './cache.ts';
import { workFault } from './work-fault.ts';

/** Gives `work` a cache and `threads` workers of its own (0: this thread), and removes them afterwards, however it ended. */
export async function withScratch<Value>(
  threads: number,
  work: (cache: Cache, pool: WorkPool) => Promise<Value>,
): Promise<Value> {
  const folder = await mkdtemp(join(tmpdir(), 'partsong-'));
  const pool = new WorkPool(threads);
  try {
    return await work(new Cache(folder), pool);
  } catch (error) {
    throw workFault(error, folder);
  } finally {
    await pool.close();
    await rm(folder, { recursive: true, force: true });
  }
}
