import { defineConfig } from 'vitest/config';
import ClosingLine from './closing-line.ts';
import { missingJudges } from './outside-judges.ts';

const missing = missingJudges();
if (missing.length > 0 && process.env['PARTSONG_OUTSIDE_JUDGES'] === 'required') {
  throw new Error(`outside judges are required here, but missing: ${missing.join(', ')}`);
}

export default defineConfig({
  test: {
    root: new URL('..', import.meta.url).pathname,
    include: ['test/**/*.test.ts'],
    exclude: missing.length > 0 ? ['test/**/*.judge.test.ts'] : [],
    globalSetup: ['test/stand-in/room-for-page.ts'],
    pool: 'forks',
    maxWorkers: 2,
    testTimeout: 60_000,
    hookTimeout: 60_000,
    reporters: ['default', new ClosingLine(missing)],
  },
});
