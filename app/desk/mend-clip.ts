import { basename } from 'node:path';
import type { Score } from '../../core/guide/score.ts';
import { mendsAnything, type Nudge, type TakeMend } from '../../core/pitch/mend.ts';
import type { PitchFinding } from '../../core/pitch/mend-wishes.ts';
import { mendForOffset, mendForSink } from '../../core/pitch/mend-wishes.ts';
import { robustLine, weightedMedian } from '../../core/pitch/robust-line.ts';
import type { MendReport } from '../../core/session/report.ts';
import { tuneFindings } from '../../core/session/tune-report.ts';
import { PartsongError } from '../../core/signal/fault.ts';
import { writeWhole } from '../media/whole-file.ts';
import { readScore } from '../score/read-score.ts';
import type { WorkPool } from '../work/pool.ts';
import type { Cache } from './cache.ts';
import type { KeyedSound } from './measure-taken.ts';
import { mendNotes, mendReport } from './mend-taken.ts';
import { voiceNameOf } from './names.ts';
import { withScratch } from './scratch.ts';
import { refuseTargets } from './source-guard.ts';
import { takeInClips } from './take-in.ts';
import { pitchRow, trackTaken } from './track-taken.ts';

export interface MendClipOptions {
  readonly clip: string;
  /** Where the mended take goes; absent: nothing is written, and what could be mended is told. */
  readonly out?: string | undefined;
  /** The whole take; 'auto' brings the middle of its notes to the reference. */
  readonly cents?: number | 'auto' | undefined;
  readonly nudges: readonly Nudge[];
  readonly againstSink: boolean;
  /** MIDI or MusicXML; absent: notes are held against the nearest keys. */
  readonly score?: string | undefined;
  /** A4, Hz; absent: the take's own. */
  readonly referenceHz?: number | undefined;
  readonly signal: AbortSignal;
  readonly onStep: (step: string) => (fraction: number) => void;
}

/** How a take's pitch stands. */
export interface PitchStand {
  readonly notes: number;
  /** The A4 it plays by, Hz. */
  readonly referenceHz: number;
  /** Middle of its notes above the reference in use. */
  readonly offCents: number;
  /** Its end less its beginning. */
  readonly driftCents: number;
}

export interface MendClipReport {
  readonly file: string;
  readonly lengthSec: number;
  readonly out: string | null;
  /** Null where no pitch was found, or none had to be listened to. */
  readonly before: PitchStand | null;
  /** Listened to in what was written. */
  readonly after: PitchStand | null;
  /** What could be mended. */
  readonly proposed: { readonly cents: number; readonly curve: TakeMend['curve'] } | null;
  readonly mend: MendReport | null;
  readonly notes: readonly string[];
}

interface Heard {
  readonly stand: PitchStand;
  readonly notes: readonly PitchFinding[];
}

/**
 * Mends one take and writes it: mono float WAV at its own rate, on its own time line, as long as it was. Without a wish it listens
 * and says what could be mended; nothing is mended by itself. Throws PartsongError or CancelledError.
 */
export async function mendClip(options: MendClipOptions): Promise<MendClipReport> {
  const { clip, out, signal, onStep, againstSink } = options;
  refuseWishes(options);
  const score = options.score === undefined ? undefined : await readScore(options.score);
  if (out !== undefined) await refuseTargets([out], [clip]);
  return withScratch(0, async (cache, pool) => {
    const listening = { signal, onProgress: onStep('Listening to the take'), traced: false };
    const [take] = await takeInClips([clip], cache, pool, listening);
    if (take === undefined) throw new RangeError('no take came back');
    const lengthSec = take.lengthFrames / take.rateHz;
    const hear = (sound: KeyedSound, step: string): Promise<Heard | undefined> =>
      heardIn(sound, options, score, cache, pool, onStep(step));
    const heard = await hear(take, 'Following its pitch');
    const told = { file: basename(clip), lengthSec, before: heard?.stand ?? null };
    const none = { out: null, after: null, mend: null };
    const place = { clock: { offsetSec: 0, driftPpm: 0 }, mend: null };
    const proposed =
      heard === undefined ? null : { cents: mendForOffset(heard.notes, place), curve: mendForSink(heard.notes, place) };
    const wantsPitch = againstSink || options.cents === 'auto';
    if (wantsPitch && proposed === null) throw noPitch(clip);
    const mend: TakeMend = {
      cents: options.cents === 'auto' ? (proposed?.cents ?? 0) : (options.cents ?? 0),
      curve: againstSink ? (proposed?.curve ?? []) : [],
      nudges: options.nudges,
    };
    const notes = [...take.notes];
    if (againstSink && mend.curve.length === 0)
      notes.push('Its pitch neither sinks nor rises surely, so no curve was laid.');
    if (out === undefined) return { ...told, ...none, proposed, notes };
    if (!mendsAnything(mend)) {
      return { ...told, ...none, proposed, notes: [...notes, 'There was nothing to mend, so nothing was written.'] };
    }
    const result = await writeWhole(
      out,
      (target) =>
        pool.run(
          'mendTake',
          { soundPath: take.soundPath, rateHz: take.rateHz, mend, form: 'wave', target },
          { signal, onProgress: onStep('Mending') },
        ),
      signal,
    );
    const after = await hear({ key: 'mended', soundPath: out, rateHz: take.rateHz }, 'Listening to what came out');
    return {
      ...told,
      out,
      after: after?.stand ?? null,
      proposed,
      mend: mendReport(mend, result),
      notes: [...notes, ...mendNotes(mend, result)],
    };
  });
}

function refuseWishes({ out, cents, nudges, againstSink, referenceHz }: MendClipOptions): void {
  const bad = (message: string, nextStep: string): PartsongError => new PartsongError('bad-option', message, nextStep);
  if (cents === 'auto' && referenceHz === undefined) {
    throw bad('Nothing tells where the pitch is to go.', 'Name the A with --reference-hz, for example 440.');
  }
  const isWished = cents !== undefined || nudges.length > 0 || againstSink;
  if (isWished && out === undefined) {
    throw bad('Nothing tells where the mended take is to go.', 'Name it with --out FILE.wav.');
  }
  if (!isWished && out !== undefined) {
    throw bad(
      'Nothing tells what to mend, and nothing is mended by itself.',
      'Say so with --cents, --against-sink or --nudge; without --out you are told what could be mended.',
    );
  }
  const isApart = nudges.every((one, n) => n === 0 || one.fromSec >= nudges[n - 1]!.toSec);
  if (!isApart) throw bad('Two stretches that are to be moved overlap.', 'Give stretches that lie apart.');
}

function noPitch(clip: string): PartsongError {
  return new PartsongError(
    'bad-option',
    `No pitch was found in ${clip}, so none can be mended by what was measured.`,
    'Give the cents yourself with --cents N, or leave this take as it is.',
    clip,
  );
}

/** How a sound is in tune; undefined where it has no notes. */
async function heardIn(
  sound: KeyedSound,
  { referenceHz, clip, signal }: MendClipOptions,
  score: Score | undefined,
  cache: Cache,
  pool: WorkPool,
  onProgress: (fraction: number) => void,
): Promise<Heard | undefined> {
  const [tracked] = await trackTaken([sound], cache, pool, { signal, onProgress });
  const place = { offsetSec: 0, driftPpm: 0, uncertaintySec: 0 };
  const voice = {
    id: 'take',
    name: voiceNameOf(clip),
    tracked: tracked!,
    row: pitchRow(sound, tracked!, cache),
    place,
  };
  const { intonation } = tuneFindings([voice], {
    score,
    plan: undefined,
    referenceHz: referenceHz ?? null,
    temperament: 'equal',
    tonic: 0,
  });
  const own = intonation?.voices[0];
  if (intonation === null || own === undefined || own.notes.length === 0) return undefined;
  const stand = standOf(own.notes, intonation.reference.hz)!;
  return { stand: { ...stand, offCents: Math.round(10 * (own.centreCents ?? 0)) / 10 }, notes: own.notes };
}

/** How notes stand, in their order; null where there are none. referenceHz: the A4 that is played by. */
export function standOf(notes: readonly PitchFinding[], referenceHz: number): PitchStand | null {
  const [first, last] = [notes[0], notes.at(-1)];
  if (first === undefined || last === undefined) return null;
  const line = robustLine(notes.map((note) => [0.5 * (note.fromSec + note.toSec), note.offCents]));
  const rounded = (value: number): number => Math.round(10 * value) / 10;
  const lengths = notes.map(({ fromSec, toSec }) => toSec - fromSec);
  return {
    notes: notes.length,
    referenceHz: Math.round(100 * referenceHz) / 100,
    offCents: rounded(
      weightedMedian(
        notes.map(({ offCents }) => offCents),
        lengths,
      ),
    ),
    driftCents: rounded((line?.slope ?? 0) * (last.toSec - first.fromSec)),
  };
}
