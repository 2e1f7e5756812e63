import { defineConfig } from 'vitest/config';
import ClosingLine from './closing-line.ts';
import { missingJudges } from './outside-judges.ts';
import SmallButLong from './small-but-long.ts';

const missing = missingJudges();
if (missing.length > 0 && process.env['PARTSONG_OUTSIDE_JUDGES'] === 'required') {
  throw new Error(`outside judges are required here, but missing: ${missing.join(', ')}`);
}

export default defineConfig({
  test: {
    root: new URL('..', import.meta.url).pathname,
    include: ['test/**/*.test.ts'],
    exclude: missing.length > 0 ? ['test/**/*.judge.test.ts'] : [],
    globalSetup: ['test/own-cache.ts', 'test/ready-ffmpeg/ready-ffmpeg.ts', 'test/stand-in/room-for-page.ts'],
    setupFiles: ['test/before-each-file.ts'],
    pool: 'forks',
    // Files share two processes, with what they read, what V8 compiled, and a browser each. A process and modules for each file cost
    // 0.8 to 3 s of it. So a test puts back what it changes of globals and surroundings.
    isolate: false,
    maxWorkers: 2,
    sequence: { sequencer: SmallButLong },
    testTimeout: 60_000,
    hookTimeout: 60_000,
    reporters: ['default', new ClosingLine(missing)],
  },
});
