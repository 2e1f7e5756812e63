// Builds the window and its page with electron-vite, and everything that is older than its sources.
import { spawnSync } from 'node:child_process';
import { existsSync, mkdirSync, readdirSync, renameSync, rmSync, statSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { isStale } from '../cli/build.mjs';

export const root = fileURLToPath(new URL('../..', import.meta.url));
const builder = join(root, 'node_modules/electron-vite/bin/electron-vite.js');
/** In the order in which they are swapped: the page is the last to be new. */
const parts = ['main', 'preload', 'renderer'];

/** Builds what is stale, programs and page. False when a build failed; the builder has said why. */
export function makeFresh() {
  if (isStale() && !run(join(root, 'app/cli/build.mjs'))) return false;
  return !isPageStale() || buildPage();
}

/** Builds beside out/ and swaps folder by folder, so that a desk that starts meanwhile never meets half a build. */
export function buildPage() {
  const fresh = join(root, `out.page.${process.pid}`);
  try {
    const config = join(root, 'electron.config.ts');
    if (!run(builder, ['build', '-c', config, '--logLevel', 'warn'], { PARTSONG_OUT: fresh })) return false;
    mkdirSync(join(root, 'out'), { recursive: true });
    for (const part of parts) {
      const place = join(root, 'out', part);
      if (existsSync(place)) renameSync(place, join(fresh, `old-${part}`));
      renameSync(join(fresh, part), place);
    }
    return true;
  } finally {
    rmSync(fresh, { recursive: true, force: true });
  }
}

/** True when the page is missing or older than a source. A tree without the builder (an installed copy) is never stale. */
function isPageStale() {
  if (!existsSync(builder)) return false;
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
function run(script, args = [], env = {}) {
  const options = { cwd: root, stdio: ['ignore', 2, 2], env: { ...process.env, ...env } };
  return spawnSync(process.execPath, [script, ...args], options).status === 0;
}

if (process.argv[1] && fileURLToPath(import.meta.url) === process.argv[1]) process.exitCode = buildPage() ? 0 : 1;
