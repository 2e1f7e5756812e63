import { defineConfig } from 'vitest/config';
import ClosingLine from './closing-line.ts';

export default defineConfig({
  test: {
    root: new URL('..', import.meta.url).pathname,
    include: ['test/**/*.test.ts'],
    pool: 'forks',
    maxWorkers: 2,
    testTimeout: 60_000,
    reporters: ['default', new ClosingLine()],
  },
});
