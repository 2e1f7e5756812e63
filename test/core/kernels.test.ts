import { spawnSync } from 'node:child_process';
import { fileURLToPath } from 'node:url';
import { expect, it } from 'vitest';

it('a rebuild of the kernels gives the committed bytes', () => {
  const build = fileURLToPath(new URL('../../core/build-kernels.mjs', import.meta.url));
  // The compiler is WebAssembly, and runs for less long than it takes to make it fast: 12.4 s of processor time instead of 15.
  const { status, stderr } = spawnSync(process.execPath, ['--liftoff-only', build, '--check'], { encoding: 'utf8' });
  expect(stderr).toBe('');
  expect(status).toBe(0);
}, 120_000);
