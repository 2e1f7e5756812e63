import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';

/** Before all tests: a folder in place of the user's caches for them and the programs that they start; removed after them. */
export default function ownCache(): () => void {
  const folder = mkdtempSync(join(tmpdir(), 'partsong-test-cache-'));
  process.env['XDG_CACHE_HOME'] = folder;
  return () => rmSync(folder, { recursive: true, force: true });
}
