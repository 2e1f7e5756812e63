import { defineConfig } from 'vitest/config';
import ClosingLine from './closing-line.ts';
import { missingJudges } from './outside-judges.ts';

const missing = missingJudges();
if (missing.length > 0 && process.env['PARTSONG_OUTSIDE_JUDGES'] === 'required') {
  throw new Error(`outside judges are required here, but missing: ${missing.join(', ')}`);
}

const withoutJudges = missing.length > 0 ? ['test/**/*.judge.test.ts'] : [];
/** Tests of what changes nothing that another could see: no globals, no surroundings, files only in a folder of its own. */
const pure = [
  'test/core/**/*.test.ts',
  'test/reference/!(guide-*|media-*|picture-*).test.ts',
  'test/renderer/**/!(*.judge).test.ts',
  'test/samples/**/*.test.ts',
  'test/house.test.ts',
];
/** Tests of the desk and the command line, which change nothing but files in folders of their own, either. */
const desk = ['test/app/{cli,desk,work}/**/*.test.ts'];

export default defineConfig({
  test: {
    root: new URL('..', import.meta.url).pathname,
    // What is pure can share a process, file after file: starting one and reading core anew took 0.8 s a file.
    projects: [
      { extends: true, test: { name: 'pure', include: pure, exclude: withoutJudges, isolate: false } },
      { extends: true, test: { name: 'desk', include: desk, exclude: withoutJudges, isolate: false } },
      {
        extends: true,
        test: {
          name: 'machine',
          include: ['test/**/*.test.ts'],
          exclude: [...pure, ...desk, ...withoutJudges],
          globalSetup: ['test/stand-in/room-for-page.ts'],
        },
      },
    ],
    pool: 'forks',
    maxWorkers: 2,
    testTimeout: 60_000,
    hookTimeout: 60_000,
    reporters: ['default', new ClosingLine(missing)],
  },
});
