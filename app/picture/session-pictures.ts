import { readFile, stat } from 'node:fs/promises';
import { join, resolve } from 'node:path';
import type { ClipPicture } from '../../core/picture/clip-picture.ts';
import type { SessionSpan } from '../../core/picture/picture-design.ts';
import type { VoicePicture } from '../../core/picture/picture-plan.ts';
import { heardTakes, soundingTake } from '../../core/session/passages.ts';
import type { Session, Take } from '../../core/session/schema.ts';
import { PartsongError } from '../../core/signal/fault.ts';
import { screenOf } from '../desk/lock.ts';
import { SESSION_NAME, SessionStore } from '../desk/session-store.ts';
import { openFault } from '../media/clip-faults.ts';
import { decode } from '../media/decode.ts';
import { type ClipFacts, probe, readAllFacts } from '../media/probe.ts';
import { clipPictureOf } from './clip-picture-facts.ts';

/** A session's folder with a mix in it, as far as a video needs it. */
export interface MixedSession {
  readonly folder: string;
  readonly session: Session;
  readonly mixPath: string;
  readonly mix: ClipFacts;
  /** What the mix's report tells; null where there is none. */
  readonly report: {
    /** The stretch of music in session time, s. */
    readonly music: { readonly fromSec: number; readonly toSec: number } | null;
    readonly ceilingDbtp: number;
    readonly targetLufs: number;
    /** Stems by the names of takes, as paths within the folder. */
    readonly stems: ReadonlyMap<string, string>;
  } | null;
}

/** A take that is seen or heard in a video, and what its clip holds. */
export interface SeenTake {
  readonly take: Take;
  readonly clipPath: string;
  readonly facts: ClipFacts;
}

/**
 * Reads a session with its mix; nothing is changed and no lock is taken. Throws PartsongError as reading a session does,
 * and 'file-missing' where it has no mix yet.
 */
export async function readMixedSession(path: string, signal?: AbortSignal): Promise<MixedSession> {
  const full = resolve(path);
  const folder = full.endsWith(SESSION_NAME) ? join(full, '..') : full;
  const { session } = await new SessionStore(folder).read();
  const mixPath = join(folder, 'mix.wav');
  if ((await stat(mixPath).catch(() => undefined)) === undefined) throw await noMixFault(folder, mixPath);
  const text = await readFile(join(folder, 'report.json'), 'utf8').catch(() => undefined);
  return { folder, session, mixPath, mix: await probe(mixPath, signal), report: readReport(text) };
}

async function noMixFault(folder: string, mixPath: string): Promise<PartsongError> {
  const where = await screenOf(folder);
  const next =
    where === undefined
      ? 'Render the mix first with "partsong mix SESSION", or give the clips themselves: partsong picture CLIP... --out FILE.mp4'
      : `The session is open ${where}: make the mix there in the step Render, or the video in the step Picture; or close it there and run "partsong mix SESSION".`;
  return new PartsongError(
    'file-missing',
    `The session ${folder} has no mix yet (mix.wav), and a video needs its sound.`,
    next,
    mixPath,
  );
}

/** What a mix's report tells a video; null where it cannot be read. */
export function readReport(text: string | undefined): MixedSession['report'] {
  if (text === undefined) return null;
  try {
    const raw = JSON.parse(text) as {
      takes?: { name?: unknown; stem?: unknown }[];
      mix?: { music?: { fromSec?: unknown; toSec?: unknown } | null; ceilingDbtp?: unknown; targetLufs?: unknown };
    };
    const { fromSec, toSec } = raw.mix?.music ?? {};
    const isSpan = typeof fromSec === 'number' && typeof toSec === 'number' && toSec > fromSec;
    const { ceilingDbtp, targetLufs } = raw.mix ?? {};
    if (typeof ceilingDbtp !== 'number' || typeof targetLufs !== 'number') return null;
    const stems = new Map<string, string>();
    for (const { name, stem } of raw.takes ?? []) {
      if (typeof name === 'string' && typeof stem === 'string') stems.set(name, stem);
    }
    return { music: isSpan ? { fromSec, toSec } : null, ceilingDbtp, targetLufs, stems };
  } catch {
    return null;
  }
}

/**
 * The takes that a session's voices sound with, by their ids, and what their clips hold. Throws PartsongError:
 * 'file-missing' names the first clip that is not there, and how many more; 'bad-option' where no voice has a take.
 */
export async function takesSeen(mixed: MixedSession, signal?: AbortSignal): Promise<Map<string, SeenTake>> {
  const { session, folder } = mixed;
  const wanted = takesOf(session).filter(({ placement }) => placement !== null);
  if (wanted.length === 0) {
    throw new PartsongError(
      'bad-option',
      `The session ${folder} has no voice with a take that is lined up.`,
      'Line the takes up and mix first.',
      folder,
    );
  }
  const paths = wanted.map(({ clip }) => resolve(folder, clip.path));
  await refuseMissing(paths);
  const seen = new Map<string, SeenTake>();
  const facts = await readAllFacts(paths, signal);
  for (const [index, take] of wanted.entries()) {
    seen.set(take.id, { take, clipPath: paths[index]!, facts: facts[index]! });
  }
  return seen;
}

function takesOf(session: Session): Take[] {
  return [...new Set(session.voices.flatMap((voice) => heardTakes(session, voice)))];
}

async function refuseMissing(paths: readonly string[]): Promise<void> {
  const outcomes = await Promise.all(
    paths.map((path) =>
      stat(path).then(
        () => undefined,
        (cause: unknown) => ({ path, cause }),
      ),
    ),
  );
  const [first, ...more] = outcomes.filter((outcome) => outcome !== undefined);
  if (first === undefined) return;
  const fault = openFault(first.path, first.cause);
  const others = more.length === 0 ? '' : ` ${more.length} more ${more.length === 1 ? 'is' : 'are'} missing too.`;
  throw new PartsongError(
    fault.code,
    `${fault.message}${others} The video needs the clips themselves.`,
    'Put the clips back, or open the session on screen and let it look for them.',
    first.path,
  );
}

/** The moving picture of a take; null for sound alone. */
export function pictureOfTake(seen: ReadonlyMap<string, SeenTake>): (takeId: string) => ClipPicture | null {
  const pictures = new Map([...seen].map(([id, { facts }]) => [id, clipPictureOf(facts)]));
  return (takeId) => pictures.get(takeId) ?? null;
}

/**
 * Shapes of the sound of voices that have no picture, from their stems, over a stretch of session time, by voice id. A
 * voice without a stem gets none. Reads each stem once.
 */
export async function drawnPeaks(
  mixed: MixedSession,
  voices: readonly VoicePicture[],
  span: SessionSpan,
  signal?: AbortSignal,
): Promise<Map<string, readonly number[]>> {
  const result = new Map<string, readonly number[]>();
  for (const { voiceId, pieces } of voices) {
    const voice = mixed.session.voices.find(({ id }) => id === voiceId);
    const take = voice === undefined ? undefined : soundingTake(mixed.session, voice);
    const stem = take === undefined ? undefined : mixed.report?.stems.get(take.name);
    if (stem === undefined || pieces.some(({ picture }) => picture !== null)) continue;
    const path = join(mixed.folder, stem);
    if ((await stat(path).catch(() => undefined)) === undefined) continue;
    result.set(voiceId, await peaksOf(path, span, PEAKS, signal));
  }
  return result;
}

/** Bars of a drawn waveform. */
const PEAKS = 160;

async function peaksOf(path: string, span: SessionSpan, count: number, signal?: AbortSignal): Promise<number[]> {
  const facts = await probe(path, signal);
  const { rateHz } = facts.chosenAudio;
  const from = Math.max(0, Math.round(span.fromSec * rateHz));
  const each = Math.max(1, ((span.toSec - span.fromSec) * rateHz) / count);
  const peaks = new Array<number>(count).fill(0);
  let at = -from;
  for await (const block of decode(path, facts, { signal })) {
    const [samples] = block;
    for (let n = Math.max(0, -at); n < samples!.length; n++) {
      const bar = Math.floor((at + n) / each);
      if (bar >= count) return peaks;
      const value = Math.abs(samples![n]!);
      if (value > peaks[bar]!) peaks[bar] = value;
    }
    at += samples!.length;
  }
  return peaks;
}
