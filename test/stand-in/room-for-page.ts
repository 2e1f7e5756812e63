import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { TestProject } from 'vitest/node';

declare module 'vitest' {
  interface ProvidedContext {
    /** Where the page over the invented desk is built, once for all tests of a run, when the first asks for it. */
    readonly standInFolder: string;
  }
}

/** Before all tests: a folder for the built page; removed after them. */
export default function roomForPage({ provide }: TestProject): () => void {
  const folder = mkdtempSync(join(tmpdir(), 'partsong-stand-in-'));
  provide('standInFolder', folder);
  return () => rmSync(folder, { recursive: true, force: true });
}
