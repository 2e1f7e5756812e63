import { readdirSync, readFileSync } from 'node:fs';
import { dirname, join, relative, resolve } from 'node:path';
import { describe, expect, it } from 'vitest';

const root = resolve(import.meta.dirname, '..');

/** Rooms of core, lower ones first; a room may import rooms of a lower rank and itself. */
const coreRank: Record<string, number> = {
  signal: 0,
  wave: 0.5,
  letters: 0.5,
  noise: 1,
  loudness: 1,
  lineup: 1,
  pitch: 1,
  guide: 2,
  mix: 2,
  picture: 2,
  session: 3,
};

/** Packages that one file of core may import, and which: third-party parts are wrapped once. */
const corePackages: Record<string, string> = {
  'core/session/schema.ts': 'zod',
  'core/session/edit-schema.ts': 'zod',
  'core/session/kept-plan.ts': 'zod',
  'core/session/picture-schema.ts': 'zod',
  'core/session/placement-schema.ts': 'zod',
};

function sourcesUnder(folder: string): string[] {
  return readdirSync(join(root, folder), { withFileTypes: true }).flatMap((entry) => {
    const path = join(folder, entry.name);
    if (entry.isDirectory()) return path.endsWith('kernel/assembly') ? [] : sourcesUnder(path);
    return /\.tsx?$/.test(entry.name) && !entry.name.endsWith('.d.ts') ? [path] : [];
  });
}

function importsOf(path: string): string[] {
  const text = readFileSync(join(root, path), 'utf8');
  const found = text.matchAll(
    /(?:^|\n)\s*(?:import|export)\s[^'"]*?from\s*['"]([^'"]+)['"]|import\(\s*['"]([^'"]+)['"]\s*\)|(?:^|\n)import\s*['"]([^'"]+)['"]/g,
  );
  return Array.from(found, (match) => (match[1] ?? match[2] ?? match[3])!);
}

/** Path from the root of what a file imports, or the package's name. */
function targetOf(path: string, specifier: string): string {
  return specifier.startsWith('.') ? relative(root, resolve(root, dirname(path), specifier)) : specifier;
}

describe('the walls of the house', () => {
  const core = sourcesUnder('core');

  it('reads more than ten files of core and finds their imports', () => {
    expect(core.length).toBeGreaterThan(10);
    expect(core.flatMap(importsOf).length).toBeGreaterThan(10);
  });

  it('core imports only core', () => {
    const strangers = core.flatMap((path) =>
      importsOf(path)
        .map((specifier) => targetOf(path, specifier))
        .filter((target) => !target.startsWith('core/') && corePackages[path] !== target)
        .map((target) => `${path} -> ${target}`),
    );
    expect(strangers).toEqual([]);
  });

  it('inside core, arrows run only downward', () => {
    const upward = core.flatMap((path) => {
      const from = path.split('/')[1]!;
      return importsOf(path)
        .map((specifier) => targetOf(path, specifier))
        .filter((target) => target.startsWith('core/'))
        .filter((target) => {
          const to = target.split('/')[1]!;
          return to !== from && !(coreRank[to]! < coreRank[from]!);
        })
        .map((target) => `${path} -> ${target}`);
    });
    expect(upward).toEqual([]);
  });

  it('app imports only core, app and packages, and never the renderer or a test', () => {
    const wrong = sourcesUnder('app').flatMap((path) =>
      importsOf(path)
        .map((specifier) => targetOf(path, specifier))
        .filter((target) => /^(renderer|test|samples)\//.test(target))
        .map((target) => `${path} -> ${target}`),
    );
    expect(wrong).toEqual([]);
  });

  it('what runs in workers knows no desk', () => {
    const wrong = sourcesUnder('app/work').flatMap((path) =>
      importsOf(path)
        .map((specifier) => targetOf(path, specifier))
        .filter((target) => target.startsWith('app/desk/'))
        .map((target) => `${path} -> ${target}`),
    );
    expect(wrong).toEqual([]);
  });

  it('renderer imports only core, itself, packages, and of the contract its types and the names of its calls', () => {
    const wrong = sourcesUnder('renderer').flatMap((path) =>
      importsOf(path)
        .map((specifier) => targetOf(path, specifier))
        .filter((target) => /^(app|test|samples)\//.test(target) && !target.startsWith('app/shell/contract/'))
        .map((target) => `${path} -> ${target}`),
    );
    expect(wrong).toEqual([]);
    const values = sourcesUnder('renderer').filter((path) =>
      /(?:^|\n)import (?!type )[^;]*?from '[^']*app\/shell\/(?!contract\/call-names\.ts)/.test(
        readFileSync(join(root, path), 'utf8'),
      ),
    );
    expect(values).toEqual([]);
  });

  it('no two files of core import each other in a circle', () => {
    const edges = new Map(
      core.map((path) => [
        path,
        importsOf(path)
          .map((specifier) => targetOf(path, specifier))
          .filter((target) => target.startsWith('core/')),
      ]),
    );
    const done = new Set<string>();
    const circles: string[] = [];
    const visit = (path: string, trail: readonly string[]): void => {
      if (trail.includes(path)) circles.push([...trail.slice(trail.indexOf(path)), path].join(' -> '));
      else if (!done.has(path)) {
        for (const next of edges.get(path) ?? []) visit(next, [...trail, path]);
        done.add(path);
      }
    };
    for (const path of core) visit(path, []);
    expect(circles).toEqual([]);
  });

  it('the top level holds what the design names', () => {
    const allowed =
      /^(\..*|package\.json|package-lock\.json|tsconfig\.json|biome\.json|electron\.config\.ts|README\.md|DEVELOPERS\.md|LICENSE|app|renderer|core|test|samples|node_modules|out(\..*)?|demo-output|artefacts)$/;
    expect(readdirSync(root).filter((name) => !allowed.test(name))).toEqual([]);
  });
});
