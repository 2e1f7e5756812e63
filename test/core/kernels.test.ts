import { spawnSync } from 'node:child_process';
import { fileURLToPath } from 'node:url';
import { expect, it } from 'vitest';

it('a rebuild of the kernels gives the committed bytes', () => {
  const build = fileURLToPath(new URL('../../core/build-kernels.mjs', import.meta.url));
  const { status, stderr } = spawnSync(process.execPath, [build, '--check'], { encoding: 'utf8' });
  expect(stderr).toBe('');
  expect(status).toBe(0);
}, 120_000);
