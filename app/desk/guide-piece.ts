import { type GuidePlan, planGuide } from '../../core/guide/guide-plan.ts';
import { atTempo, plainScore } from '../../core/guide/plain-score.ts';
import type { Score } from '../../core/guide/score.ts';
import { withHold, withRitardando } from '../../core/guide/tempo-marks.ts';
import { PartsongError } from '../../core/signal/fault.ts';
import { readScore } from '../score/read-score.ts';
import { keptGuideFile } from './guide-file.ts';
import type { MakeGuideOptions } from './guide-request.ts';
import type { readSession } from './own-takes.ts';

const USUAL_TEMPO = 90;

/** The piece that is played, at its tempo: of a file, else of the session's guide, else bars of click. Throws PartsongError. */
export async function pieceOf(
  options: MakeGuideOptions,
  session: Awaited<ReturnType<typeof readSession>> | undefined,
): Promise<Score> {
  const { score: file, quartersPerMinute, metre, bars, title } = options;
  const kept = file === undefined && session !== undefined ? await scoreOf(session) : undefined;
  if (file === undefined && kept === undefined) {
    return plainScore({ title: title ?? 'Guide', quartersPerMinute: quartersPerMinute ?? USUAL_TEMPO, ...metre, bars });
  }
  const read = kept ?? (await readScore(file!));
  const named = title === undefined ? read : { ...read, title };
  return quartersPerMinute === undefined ? named : atTempo(named, quartersPerMinute);
}

/** The score of the guide a session was played to. Throws PartsongError 'bad-option' where it has none. */
async function scoreOf({ session, folder }: Awaited<ReturnType<typeof readSession>>): Promise<Score> {
  const { guide } = session;
  const kept = guide === null ? undefined : await keptGuideFile(folder, guide.clip.fingerprint);
  if (kept !== undefined) return kept.score;
  throw new PartsongError(
    'bad-option',
    `The session ${folder} has no guide whose score is known.`,
    'Name the score: partsong guide SCORE --session DIR --out DIR.',
    folder,
  );
}

/** The piece with the changes of tempo and the fermatas that were asked for. Throws PartsongError. */
export function withMarks(score: Score, options: MakeGuideOptions): Score {
  const slowed = (): Score => (options.ritardandi ?? []).reduce(withRitardando, score);
  return orRefused(
    () => (options.holds ?? []).reduce(withHold, slowed()),
    options,
    'Bars are counted as they are played, the first full one is 1.',
  );
}

/** What cannot be planned (a tempo out of range after scaling) is the user's to change. Throws PartsongError. */
export function planned(score: Score, options: MakeGuideOptions): GuidePlan {
  return orRefused(() => planGuide(score, options.settings), options, 'Change the tempo or the metre.');
}

/** What is out of range is told to the user, with what to do. */
function orRefused<Made>(make: () => Made, { score }: MakeGuideOptions, nextStep: string): Made {
  try {
    return make();
  } catch (cause) {
    if (!(cause instanceof RangeError)) throw cause;
    throw new PartsongError('bad-option', `The guide cannot be made: ${cause.message}.`, nextStep, score, { cause });
  }
}
