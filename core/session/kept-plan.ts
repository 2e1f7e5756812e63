import { z } from 'zod';
import type { GuidePlan } from '../guide/guide-plan.ts';
import type { GuideMarks } from '../lineup/guide-map.ts';
import type { GuideLengths } from '../lineup/parts-by-guide.ts';
import { SESSION_RATE_HZ } from '../signal/time.ts';

/** Longer than any guide: a day. */
const MOST_FRAMES = 86_400 * SESSION_RATE_HZ;
/** As many bars as a score is unrolled to, and the most beats a metre has. */
const MOST_BARS = 20_000;
const MOST_BEATS = 64;
const MOST_VOICES = 200;
const LONGEST_NAME = 200;

const frame = z.number().int().nonnegative().max(MOST_FRAMES);
const stretch = z
  .strictObject({ fromFrame: frame, toFrame: frame })
  .refine((value) => value.toFrame > value.fromFrame, 'toFrame must be after fromFrame');

/** See KeptPlan. */
export const keptPlanSchema = z.strictObject({
  lengthFrames: frame.positive(),
  /** Where the guide has the player be still. */
  silence: stretch,
  /** Beats of each cue, where the clap belongs, and until when nothing else sounds. */
  cues: z
    .array(
      z.strictObject({
        beatFrames: z.array(frame).max(MOST_BEATS),
        clapFrame: frame,
        toFrame: frame,
        at: z.enum(['start', 'end']),
      }),
    )
    .max(8),
  countInFrame: frame,
  /** Where score position 0 sounds, and where the last bar ends. */
  musicFrame: frame,
  musicEndFrame: frame,
  /** Bars as played, in order; number 0 is a pick-up. */
  bars: z
    .array(
      z.strictObject({
        number: z.number().int().min(0).max(MOST_BARS),
        frame,
        beatFrames: z.array(frame).max(MOST_BEATS),
      }),
    )
    .max(MOST_BARS),
  /** Names of the voices of its score, top first; none for a click. */
  voices: z.array(z.string().max(LONGEST_NAME)).max(MOST_VOICES),
});

/**
 * What a session keeps of the plan of a guide made by Partsong: frames at 48 kHz from the guide's first sample, which is
 * session time zero. Its tones and clicks, and the score, stay in the `.guide.json`.
 */
export type KeptPlan = Readonly<z.infer<typeof keptPlanSchema>>;

/** The plan as a session keeps it; null for one that is beyond what a session holds. */
export function keptPlan(plan: GuidePlan, voices: readonly string[]): KeptPlan | null {
  const { lengthFrames, silence, cues, countInFrame, musicFrame, musicEndFrame, bars } = plan;
  const kept = keptPlanSchema.safeParse({
    lengthFrames,
    silence: { fromFrame: silence.fromFrame, toFrame: silence.toFrame },
    cues: cues.map(({ beatFrames, clapFrame, toFrame, at }) => ({
      beatFrames: [...beatFrames],
      clapFrame,
      toFrame,
      at,
    })),
    countInFrame,
    musicFrame,
    musicEndFrame,
    bars: bars.map((bar) => ({ number: bar.number, frame: bar.frame, beatFrames: [...bar.beatFrames] })),
    voices: voices.map((name) => name.slice(0, LONGEST_NAME)),
  });
  return kept.success ? kept.data : null;
}

/** What line-up is told of a guide with a plan. */
export function guideMarks(plan: KeptPlan): GuideMarks {
  return {
    clapsSec: plan.cues.map((cue) => cue.clapFrame / SESSION_RATE_HZ),
    music: { fromSec: plan.musicFrame / SESSION_RATE_HZ, toSec: plan.musicEndFrame / SESSION_RATE_HZ },
    hasVoices: plan.voices.length > 0,
  };
}

/** How long the piece lasts from its clap, and from its first beat, in a guide. */
export function guideLengths({ cues, musicFrame, musicEndFrame }: KeptPlan): GuideLengths {
  const clap = cues.find(({ at }) => at === 'start');
  return {
    fromClapSec: clap === undefined ? null : (musicEndFrame - clap.clapFrame) / SESSION_RATE_HZ,
    musicSec: (musicEndFrame - musicFrame) / SESSION_RATE_HZ,
  };
}
