#!/usr/bin/env node
// Opens the desk; in a checkout it first rebuilds what has changed.
import { makeFresh } from './build.mjs';

if (makeFresh()) await import('../../out/start.js');
else process.exitCode = 1;
