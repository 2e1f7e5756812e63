/**
 * Compiles assembly/ to kernel.wasm.ts, which is committed so that users need no compiler.
 * `node core/signal/kernel/build.mjs` writes it; with `--check` it only compares and fails when a rebuild differs.
 */
import { readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import asc from 'assemblyscript/asc';

const here = import.meta.dirname ?? new URL('.', import.meta.url).pathname;
const target = join(here, 'kernel.wasm.ts');

const files = new Map();
const { error, stderr } = await asc.main(
  [
    'index.ts',
    '--baseDir',
    join(here, 'assembly'),
    '--outFile',
    'kernel.wasm',
    '--runtime',
    'stub',
    '--enable',
    'simd',
    '--optimizeLevel',
    '3',
    '--shrinkLevel',
    '0',
    '--converge',
    '--noAssert',
    '--use',
    'abort=',
  ],
  { writeFile: (name, contents) => files.set(name, contents) },
);
if (error) {
  process.stderr.write(`${stderr.toString()}\n`);
  throw error;
}
const bytes = Buffer.from(files.get('kernel.wasm'));
const text = [
  '/** The compiled kernel, base64. Made by build.mjs from assembly/: do not edit, run `node core/signal/kernel/build.mjs`. */',
  `export const KERNEL_BASE64 =\n  '${bytes.toString('base64')}';`,
  '',
].join('\n');

if (process.argv.includes('--check')) {
  if (readFileSync(target, 'utf8') !== text) {
    process.stderr.write('kernel.wasm.ts is not what assembly/ compiles to: run node core/signal/kernel/build.mjs\n');
    process.exitCode = 1;
  }
} else {
  writeFileSync(target, text);
  process.stdout.write(`kernel.wasm.ts: ${bytes.length} bytes of WebAssembly\n`);
}
