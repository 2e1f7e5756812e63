import { readFile } from 'node:fs/promises';
import { extname } from 'node:path';
import { z } from 'zod';
import type { GuidePlan, GuideSettings } from '../../core/guide/guide-plan.ts';
import type { Score } from '../../core/guide/score.ts';

/** What lies beside a guide's sound as `.guide.json`: where everything is in it, and the score it was made from. */
export interface GuideFile {
  readonly title: string;
  readonly plan: GuidePlan;
  readonly settings: GuideSettings;
  readonly score: Score;
}

const frame = z.number().int();
const plan = z.object({
  lengthFrames: frame.positive(),
  tones: z.array(
    z.object({
      fromFrame: frame,
      toFrame: frame,
      hz: z.number().positive(),
      what: z.enum(['silenceComes', 'silenceEnds', 'tuning', 'end']),
    }),
  ),
  silence: z.object({ fromFrame: frame, toFrame: frame }),
  cues: z.array(
    z.object({ beatFrames: z.array(frame), clapFrame: frame, toFrame: frame, at: z.enum(['start', 'end']) }),
  ),
  clicks: z.array(z.object({ frame, kind: z.enum(['bar', 'beat', 'unit']), countIn: z.boolean() })),
  musicFrame: frame,
  musicEndFrame: frame,
  countInFrame: frame,
  bars: z.array(z.object({ number: z.number().int(), frame, beatFrames: z.array(frame) })),
});

/** The text of a `.guide.json`. */
export function guideFileText(guide: GuideFile): string {
  return `${JSON.stringify({ format: 'partsong-guide', version: 1, ...guide })}\n`;
}

/**
 * The plan of a guide whose sound was made by Partsong; undefined where no `.guide.json` lies beside it, or one that cannot
 * be read: the guide is then a sound like any other.
 */
export async function guidePlanBeside(guide: string): Promise<GuidePlan | undefined> {
  const file = `${guide.slice(0, guide.length - extname(guide).length)}.guide.json`;
  try {
    const parsed = z
      .object({ format: z.literal('partsong-guide'), plan })
      .safeParse(JSON.parse(await readFile(file, 'utf8')));
    return parsed.success ? parsed.data.plan : undefined;
  } catch {
    return undefined;
  }
}
