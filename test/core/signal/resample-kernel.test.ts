import { spawnSync } from 'node:child_process';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';

const root = join(import.meta.dirname, '../../..');

describe('the resampling kernel', () => {
  it('is what its source compiles to', () => {
    const build = join(root, 'core/signal/kernel/build.mjs');
    const run = spawnSync(process.execPath, [build, '--check'], { encoding: 'utf8' });
    expect(run.stderr).toBe('');
    expect(run.status).toBe(0);
  });
});
