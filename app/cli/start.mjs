#!/usr/bin/env node
// Starts the command line; in a checkout it first rebuilds what has changed.
import { spawnSync } from 'node:child_process';
import { fileURLToPath } from 'node:url';
import { isStale } from './build.mjs';

if (isStale()) {
  // In a process of its own, since the bundler's memory would stay with the work that follows.
  const builder = fileURLToPath(new URL('./build.mjs', import.meta.url));
  const { status } = spawnSync(process.execPath, [builder], { stdio: ['ignore', 2, 2] });
  if (status !== 0) process.exit(1);
}
await import('../../out/partsong.js');
