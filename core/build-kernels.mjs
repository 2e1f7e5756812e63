/**
 * Compiles each kernel's assembly/ to its kernel.wasm.ts, which is committed so that users need no compiler.
 * `npm run kernel` writes them; with `--check` it only compares, and fails when a rebuild differs.
 */
import { readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import asc from 'assemblyscript/asc';

/** Folder of each kernel -> what its compilation needs besides. The peak kernel lays out its memory itself: 2 pages. */
const kernels = {
  'signal/kernel': [],
  'signal/fft/kernel': [],
  'signal/filters/kernel': [],
  'wave/kernel': [],
  'lineup/kernel': [],
  'lineup/bleed/kernel': [],
  'loudness/kernel': ['--initialMemory', '2'],
  'noise/kernel': ['--memoryBase', '1024'],
  'pitch/kernel': [],
  'pitch/trend/kernel': [],
};
const common =
  '--runtime stub --enable simd --optimizeLevel 3 --shrinkLevel 0 --converge --noAssert --use abort='.split(' ');

for (const [folder, own] of Object.entries(kernels)) {
  const here = fileURLToPath(new URL(folder, import.meta.url));
  const target = join(here, 'kernel.wasm.ts');
  const text = await compile(join(here, 'assembly'), own);
  if (!process.argv.includes('--check')) writeFileSync(target, text);
  else if (readFileSync(target, 'utf8') !== text) {
    process.stderr.write(`core/${folder}/kernel.wasm.ts is not what its assembly/ compiles to: run npm run kernel\n`);
    process.exitCode = 1;
  }
}

async function compile(baseDir, own) {
  const files = new Map();
  const options = ['index.ts', '--baseDir', baseDir, '--outFile', 'kernel.wasm', ...common, ...own];
  const { error, stderr } = await asc.main(options, { writeFile: (name, contents) => files.set(name, contents) });
  if (error) {
    process.stderr.write(`${stderr.toString()}\n`);
    throw error;
  }
  const base64 = Buffer.from(files.get('kernel.wasm')).toString('base64');
  return `/** The compiled kernel, base64. Made from assembly/: do not edit, run \`npm run kernel\`. */\nexport const KERNEL_BASE64 =\n  '${base64}';\n`;
}
