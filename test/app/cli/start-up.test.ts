import { readFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { expect, it } from 'vitest';

const appFile = (path: string): string => fileURLToPath(new URL(`../../../app/${path}`, import.meta.url));
/** Type-only imports vanish; what `import()` names is loaded when it is asked for. */
const LOADED = /^import (?!type )(?:(\{[^}]*\}|[\w, {}*]+) from )?'([^']+)'/gm;

/** Packages that a source loads at once, each with the way to it. */
function packagesOf(source: string): Map<string, string> {
  const found = new Map<string, string>();
  const seen = new Set<string>();
  const look = (path: string, way: string): void => {
    if (seen.has(path)) return;
    seen.add(path);
    for (const [, names, target] of readFileSync(path, 'utf8').matchAll(LOADED)) {
      const parts = names
        ?.replace(/[{}]/g, '')
        .split(',')
        .filter((name) => name.trim() !== '');
      if (parts?.every((name) => name.trim().startsWith('type '))) continue;
      if (target!.startsWith('.')) look(join(dirname(path), target!), `${way} > ${target}`);
      else if (!target!.startsWith('node:')) found.set(target!, way);
    }
  };
  look(source, source);
  return found;
}

it('the command line loads no package but commander before a verb needs one: zod alone would cost 60 ms a start', () => {
  expect(Object.fromEntries(packagesOf(appFile('cli/partsong.ts')))).toEqual({ commander: expect.any(String) });
});

it('cleaning a take without a guide loads no package at all', () => {
  expect(Object.fromEntries(packagesOf(appFile('desk/clean-clip.ts')))).toEqual({});
});
