import type { Reporter, SerializedError, TestModule } from 'vitest/node';

/** Prints `N passed, N failed` as the very last line of a run, and before it which outside judges were absent. */
export default class ClosingLine implements Reporter {
  readonly #missing: readonly string[];

  constructor(missing: readonly string[]) {
    this.#missing = missing;
  }

  onTestRunEnd(modules: readonly TestModule[], errors: readonly SerializedError[]): void {
    let passed = 0;
    let failed = errors.length;
    let skipped = 0;
    for (const module of modules) {
      failed += module.errors().length;
      for (const test of module.children.allTests()) {
        const state = test.result().state;
        if (state === 'passed') passed++;
        else if (state === 'failed') failed++;
        else skipped++;
      }
    }
    process.on('exit', () => {
      if (this.#missing.length > 0) {
        process.stdout.write(
          `\nThe tests against outside judges (*.judge.test.ts) were not part of this run; not on this machine: ${this.#missing.join(', ')}.\n`,
        );
      }
      process.stdout.write(`\n${passed} passed, ${failed} failed${skipped ? `, ${skipped} skipped` : ''}\n`);
    });
  }
}
