import { InvalidArgumentError } from 'commander';
import type { Span } from '../../core/session/schema.ts';

/** A parser of a number option within limits, for commander. */
export function numberWithin(what: string, minimum: number, maximum: number): (text: string) => number {
  return (text) => {
    const value = Number(text);
    if (text.trim() === '' || !(value >= minimum && value <= maximum)) {
      throw new InvalidArgumentError(`${what} is a number from ${minimum} to ${maximum}.`);
    }
    return value;
  };
}

/** A stretch of time as `FROM-TO`, seconds or minutes:seconds ("2.5-5", "0:02.5-0:05"). */
export function parseSpan(text: string): Span {
  const match = /^\s*([\d:.]+)\s*[-–]\s*([\d:.]+)\s*$/.exec(text);
  const fromSec = match === null ? Number.NaN : secondsOf(match[1]!);
  const toSec = match === null ? Number.NaN : secondsOf(match[2]!);
  if (!(fromSec >= 0 && toSec > fromSec)) {
    throw new InvalidArgumentError(
      'A stretch is FROM-TO in seconds or minutes:seconds, for example 2.5-5 or 0:02-0:05.',
    );
  }
  return { fromSec, toSec };
}

function secondsOf(text: string): number {
  return text.split(':').reduce((sum, part) => sum * 60 + (part === '' ? Number.NaN : Number(part)), 0);
}
