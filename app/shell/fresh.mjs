// Builds what is older than its sources: the programs (rolldown) and the window with its page (electron-vite).
import { spawnSync } from 'node:child_process';
import { existsSync, readdirSync, statSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { isStale } from '../cli/build.mjs';

export const root = fileURLToPath(new URL('../..', import.meta.url));
const pageBuilder = join(root, 'node_modules/electron-vite/bin/electron-vite.js');

/** Builds what is stale. False when a build failed; the builder has said why. */
export function makeFresh() {
  if (isStale() && !run(join(root, 'app/cli/build.mjs'))) return false;
  if (!isPageStale()) return true;
  return run(pageBuilder, 'build', '-c', join(root, 'electron.config.ts'), '--logLevel', 'warn');
}

/** True when the page is missing or older than a source. A tree without the builder (an installed copy) is never stale. */
function isPageStale() {
  if (!existsSync(pageBuilder)) return false;
  const made = ['renderer/index.html', 'main/main.js', 'preload/preload.cjs'].map((name) => join(root, 'out', name));
  if (!made.every((path) => existsSync(path))) return true;
  const madeAt = Math.min(...made.map((path) => statSync(path).mtimeMs));
  return ['renderer', 'app', 'core'].some((folder) => newestUnder(join(root, folder)) > madeAt);
}

function newestUnder(folder) {
  let newest = statSync(folder).mtimeMs;
  for (const entry of readdirSync(folder, { withFileTypes: true })) {
    const path = join(folder, entry.name);
    newest = Math.max(newest, entry.isDirectory() ? newestUnder(path) : statSync(path).mtimeMs);
  }
  return newest;
}

/** In a process of its own, since the builder's memory would stay with the work that follows. */
function run(script, ...args) {
  return spawnSync(process.execPath, [script, ...args], { cwd: root, stdio: ['ignore', 2, 2] }).status === 0;
}
