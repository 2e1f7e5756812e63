import { InvalidArgumentError } from 'commander';
import type { Span } from '../../core/session/schema.ts';
import { PartsongError } from '../../core/signal/fault.ts';

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

/** The same for a stretch that is part of an argument. Throws PartsongError 'bad-option'. */
export function spanSaid(text: string): Span {
  try {
    return parseSpan(text);
  } catch {
    const next = 'A stretch is FROM-TO in seconds or minutes:seconds, for example 41.5-52 or 0:41.5-0:52.';
    throw new PartsongError('bad-option', `"${text}" is no stretch of time.`, next);
  }
}

/** A moment, seconds or minutes:seconds, below 0 with a minus before it. Throws PartsongError 'bad-option'. */
export function momentSaid(text: string): number {
  const match = /^\s*([-−]?)([\d:.]+)\s*$/.exec(text);
  const sec = match === null ? Number.NaN : secondsOf(match[2]!);
  if (Number.isFinite(sec)) return match![1] === '' ? sec : -sec;
  const next = 'A moment is seconds or minutes:seconds, for example 72.5 or 1:12.5.';
  throw new PartsongError('bad-option', `"${text}" is no moment.`, next);
}

function secondsOf(text: string): number {
  const parts = text.split(':').map((part) => (part === '' ? Number.NaN : Number(part)));
  // Behind a colon no minute has 60 seconds.
  return parts.reduce((sum, part, n) => sum * 60 + (n > 0 && part >= 60 ? Number.NaN : part), 0);
}

/** For an option that may be given again and again. */
export function collected(text: string, before: readonly string[]): string[] {
  return [...before, text];
}

/** Throws PartsongError 'bad-option' for options that only make sense of a session. given: by their names; example: how one is named. */
export function refuseWithoutSession(given: Readonly<Record<string, unknown>>, example: string): void {
  const [first] = Object.entries(given).filter(([, value]) =>
    Array.isArray(value) ? value.length > 0 : value !== undefined,
  );
  if (first === undefined) return;
  const name = `--${first[0].replace(/[A-Z]/g, (letter) => `-${letter.toLowerCase()}`)}`;
  throw new PartsongError(
    'bad-option',
    `${name} changes a session, and none is named.`,
    `Name the folder of a session first, for example: ${example}`,
  );
}
