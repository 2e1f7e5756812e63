#!/usr/bin/env node
// Starts the command line; in a checkout it first rebuilds what has changed.
import { build, isStale } from './build.mjs';

if (isStale()) await build();
await import('../../out/partsong.js');
