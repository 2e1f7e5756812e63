// Bundles the command line, the start of the desk, their workers, the bench and the sample maker into out/. Quiet; takes well under a second.
import { existsSync, mkdirSync, readdirSync, renameSync, rmSync, statSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';

const root = fileURLToPath(new URL('../..', import.meta.url));

/** What is bundled: name in out/ -> source. A source that is not there yet is passed over. */
const entries = {
  partsong: 'app/cli/partsong.ts',
  worker: 'app/work/worker.ts',
  start: 'app/shell/start.ts',
  bench: 'test/bench/bench.ts',
  'make-sample': 'samples/make-sample.ts',
};

function newestUnder(folder) {
  let newest = 0;
  for (const entry of readdirSync(folder, { withFileTypes: true })) {
    const path = join(folder, entry.name);
    if (entry.isDirectory()) newest = Math.max(newest, newestUnder(path));
    else if (/\.(ts|mjs|json)$/.test(entry.name)) newest = Math.max(newest, statSync(path).mtimeMs);
  }
  return newest;
}

/** True when out/ is missing or older than a source. A tree without the builder (an installed copy) is never stale. */
export function isStale() {
  const built = join(root, 'out/partsong.js');
  if (!existsSync(built)) return true;
  const builtAt = statSync(built).mtimeMs;
  return ['app', 'core', 'samples', 'test/bench'].some((folder) => {
    const path = join(root, folder);
    return existsSync(path) && newestUnder(path) > builtAt;
  });
}

/** Builds beside out/ and swaps, so that a second command started meanwhile never meets half a build. */
export async function build() {
  const { rolldown } = await import('rolldown');
  const input = Object.fromEntries(
    Object.entries(entries)
      .map(([name, source]) => [name, join(root, source)])
      .filter(([, source]) => existsSync(source)),
  );
  const fresh = join(root, `out.${process.pid}`);
  try {
    const bundle = await rolldown({
      input,
      platform: 'node',
      external: [/^node:/, /^[a-z@][^:]*$/i],
      logLevel: 'silent',
    });
    await bundle.write({ dir: fresh, format: 'esm', entryFileNames: '[name].js', chunkFileNames: 'part-[hash].js' });
    mkdirSync(join(root, 'out'), { recursive: true });
    for (const name of readdirSync(fresh)) {
      if (name !== 'partsong.js') renameSync(join(fresh, name), join(root, 'out', name));
    }
    if (existsSync(join(fresh, 'partsong.js'))) renameSync(join(fresh, 'partsong.js'), join(root, 'out/partsong.js'));
    dropOldParts();
  } finally {
    rmSync(fresh, { recursive: true, force: true });
  }
}

/** Parts of earlier builds go when no command that was started with them can still be loading them. */
function dropOldParts() {
  const out = join(root, 'out');
  for (const name of readdirSync(out)) {
    const isOld = Date.now() - statSync(join(out, name)).mtimeMs > 3_600_000;
    if (name.startsWith('part-') && isOld) rmSync(join(out, name), { force: true });
  }
}

if (process.argv[1] && fileURLToPath(import.meta.url) === process.argv[1]) await build();
