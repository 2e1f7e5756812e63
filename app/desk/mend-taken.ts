import { existsSync } from 'node:fs';
import { mendsAnything, type TakeMend } from '../../core/pitch/mend.ts';
import type { MendReport } from '../../core/session/report.ts';
import type { RunOptions, WorkPool } from '../work/pool.ts';
import type { MendTakeResult } from '../work/tasks/mend-take.ts';
import { Cache } from './cache.ts';
import type { KeyedSound } from './measure-taken.ts';
import { STEP_VERSION } from './steps.ts';

/** A take after mending. */
export interface MendedTake {
  /** Of the cache entry its sound belongs to. */
  readonly key: string;
  readonly soundPath: string;
  readonly mend: TakeMend;
  readonly result: MendTakeResult;
}

/** A sound and what is to be mended in it. */
export interface MendWish {
  readonly sound: KeyedSound;
  readonly mend: TakeMend;
}

/** The key under which the mended sound is kept: the sound's own where nothing is mended. */
export function mendedKey({ sound, mend }: { readonly sound: KeyedSound; readonly mend: TakeMend | null }): string {
  return mendsAnything(mend) ? Cache.keyOf('mend', STEP_VERSION.mend, sound.key, mend) : sound.key;
}

/** Mends sounds, several at a time; those mended the same way before come from the cache. */
export async function mendTaken(
  wishes: readonly MendWish[],
  cache: Cache,
  pool: WorkPool,
  options: RunOptions = {},
): Promise<MendedTake[]> {
  const fresh = wishes.filter((wish) => mendedBefore(wish, cache) === undefined);
  const results = await pool.runAll(
    'mendTake',
    fresh.map((wish) => ({
      soundPath: wish.sound.soundPath,
      rateHz: wish.sound.rateHz,
      mend: wish.mend,
      form: 'cache' as const,
      target: cache.soundPath(mendedKey(wish)),
    })),
    options,
  );
  fresh.forEach((wish, index) => {
    cache.keep(mendedKey(wish), results[index]);
  });
  return wishes.map((wish) => mendedBefore(wish, cache)!);
}

/** The sound that was mended so before; undefined when it was not. */
export function mendedBefore(wish: MendWish, cache: Cache): MendedTake | undefined {
  const key = mendedKey(wish);
  const result = cache.record<MendTakeResult>(key);
  const soundPath = cache.soundPath(key);
  return result === undefined || !existsSync(soundPath) ? undefined : { key, soundPath, mend: wish.mend, result };
}

/** What a report says of a mended take. */
export function mendReport(mend: TakeMend, result: MendTakeResult): MendReport {
  const { splices, worst, farthestSec, landingSec, glideCents, steepest } = result;
  return {
    cents: mend.cents,
    curve: mend.curve,
    nudges: mend.nudges,
    splices,
    worstSplice: worst === null ? null : { atSec: worst.atSec, likeness: rounded(worst.likeness, 1e4) },
    farthestMs: rounded(1000 * farthestSec, 10),
    landingMs: mend.nudges.length === 0 ? null : rounded(1000 * landingSec, 100),
    steepestPercent: rounded(100 * steepest, 10),
    glideCents,
  };
}

function rounded(value: number, parts: number): number {
  return Math.round(value * parts) / parts;
}

/** What was mended, in plain sentences. */
export function mendNotes(mend: TakeMend, result: MendTakeResult): string[] {
  const notes: string[] = [];
  if (mend.cents !== 0) notes.push(`Mended: its pitch was moved by ${signed(mend.cents)} cents as a whole.`);
  const [first, last] = [mend.curve[0], mend.curve.at(-1)];
  if (first !== undefined && last !== undefined && mend.curve.some(({ cents }) => cents !== 0)) {
    notes.push(
      `Mended: its pitch was led along a slow curve, from ${signed(first.cents)} cents at ${first.atSec.toFixed(1)} s to ${signed(last.cents)} cents at ${last.atSec.toFixed(1)} s.`,
    );
  }
  const nudges = mend.nudges.filter(({ byMs }) => byMs !== 0);
  if (nudges.length > 0) {
    const most = Math.max(...nudges.map(({ byMs }) => Math.abs(byMs)));
    const which = nudges.length === 1 ? 'One stretch was moved' : `${nudges.length} stretches were moved`;
    notes.push(
      `Mended: ${which} in time, by up to ${most.toFixed(0)} ms; between them the sound is stretched by ${(100 * result.steepest).toFixed(1)} % at most.`,
    );
  }
  notes.push(...result.held);
  if (result.worst !== null) {
    const { atSec, likeness } = result.worst;
    const look = likeness >= HARMLESS ? '' : ': listen there';
    notes.push(
      `${result.splices === 1 ? 'One splice was' : `${result.splices} splices were`} made in music; at the worst, ${atSec.toFixed(1)} s, the waves that were joined are alike to ${(100 * likeness).toFixed(1)} %${look}.`,
    );
  }
  return notes;
}

/** From this likeness on the level dips by less than 0.5 dB in a splice, were it not made good. */
const HARMLESS = 0.9;

function signed(cents: number): string {
  const size = Math.abs(cents).toFixed(1).replace(/\.0$/, '');
  return size === '0' ? size : `${cents > 0 ? '+' : '\u2212'}${size}`;
}
