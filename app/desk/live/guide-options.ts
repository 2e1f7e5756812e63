import { readScore } from '../../score/read-score.ts';
import type { GuideChoice } from '../../shell/contract/guide-choice.ts';
import type { MakeGuideOptions } from '../guide-request.ts';

/** The octave of the drone: its tonic between C3 and B3. */
const DRONE_OCTAVE_KEY = 48;

/** How many versions of a guide are made: one, or that of all parts and one for each part. */
export async function versionsOf({ score, versions }: GuideChoice): Promise<number> {
  if (score === null) return 1;
  const { parts } = await readScore(score);
  return versions === 'each' ? 1 + parts.length : 1;
}

/** What a choice on the screen asks of `makeGuide`. onStep: called at each step with its name. */
export function guideOptions(
  choice: GuideChoice,
  sessionFolder: string,
  outFolder: string,
  signal: AbortSignal,
  onStep: MakeGuideOptions['onStep'],
): MakeGuideOptions {
  const { score, title, quartersPerMinute, metre, bars, settings, temperament, tonic, clickDb, formats } = choice;
  return {
    score: score ?? undefined,
    outFolder,
    title: title.trim() === '' ? undefined : title.trim(),
    quartersPerMinute: quartersPerMinute ?? undefined,
    metre,
    bars,
    settings,
    temperament,
    tonic,
    clickDb,
    droneKey: choice.drone ? DRONE_OCTAVE_KEY + tonic : null,
    forVoice: score !== null && choice.versions === 'each' ? 'all' : undefined,
    session: score !== null && choice.withTakes ? sessionFolder : undefined,
    ownDb: choice.ownDb ?? Number.NEGATIVE_INFINITY,
    formats,
    signal,
    onStep,
  };
}
