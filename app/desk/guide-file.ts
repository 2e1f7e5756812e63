import { mkdir, readFile, stat, writeFile } from 'node:fs/promises';
import { basename, extname, join } from 'node:path';
import { z } from 'zod';
import type { GuidePlan, GuideSettings } from '../../core/guide/guide-plan.ts';
import type { Score } from '../../core/guide/score.ts';
import { type KeptPlan, keptPlan } from '../../core/session/kept-plan.ts';
import { SESSION_RATE_HZ } from '../../core/signal/time.ts';
import { writeWhole } from '../media/whole-file.ts';

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

const number = z.number().finite();
const score = z.object({
  title: z.string(),
  parts: z.array(
    z.object({
      id: z.string(),
      name: z.string(),
      sound: z.enum(['bowed', 'blown', 'plucked', 'voice', 'struck']),
      notes: z.array(z.object({ atQuarters: number, lengthQuarters: number, key: number, loudness: number })),
    }),
  ),
  metres: z.array(
    z.object({
      atBar: z.number().int(),
      beats: z.number().int(),
      unit: z.number().int(),
      groups: z.array(z.number().int()).nullable(),
    }),
  ),
  pickUpQuarters: number,
  tempo: z.array(z.object({ atQuarters: number, quartersPerMinute: number, glides: z.boolean() })),
  holds: z.array(z.object({ atQuarters: number, sec: number })),
  lengthQuarters: number,
  notes: z.array(z.string()),
});
const settings = z.object({
  silenceSec: number,
  cue: z.enum(['start', 'both']),
  countInBars: number,
  referenceHz: number,
  tuningSec: number,
  click: z.enum(['none', 'bars', 'beats', 'units']),
  restingBars: z.array(z.object({ fromBar: z.number().int(), toBar: z.number().int() })),
});
const guideFile = z.object({
  format: z.literal('partsong-guide'),
  version: z.literal(1),
  title: z.string(),
  plan,
  settings,
  score,
});

/** Larger than that of any score: half a million notes. */
const LARGEST_BYTES = 60_000_000;
/** In a session's folder: the `.guide.json` of each guide it has had, under the fingerprint of the guide's clip. */
export const GUIDES_FOLDER = 'guides';

/** The text of a `.guide.json`. */
export function guideFileText(guide: GuideFile): string {
  return `${JSON.stringify({ format: 'partsong-guide', version: 1, ...guide })}\n`;
}

/**
 * The `.guide.json` beside a guide's sound, in whatever format the sound is; undefined where there is none, or one that
 * cannot be read: the guide is then a sound like any other.
 */
export function guideFileBeside(guide: string): Promise<GuideFile | undefined> {
  return readGuideFile(`${guide.slice(0, guide.length - extname(guide).length)}.guide.json`);
}

/** A guide's sound may be this much longer or shorter than its plan, s: coders pad, and cut at whole packets. */
const SAME_LENGTH_SEC = 1;

/** A guide's sound, as it was taken in. */
interface GuideTaken {
  readonly file: string;
  readonly lengthFrames: number;
  readonly rateHz: number;
}

/**
 * The `.guide.json` of a guide that was taken in, where it fits its sound. A guide that was cut since, or another sound of
 * that name, has none, and a note says so.
 */
export async function guideFileOf(
  guide: GuideTaken | undefined,
): Promise<{ readonly file: GuideFile | undefined; readonly notes: readonly string[] }> {
  if (guide === undefined) return { file: undefined, notes: [] };
  const file = await guideFileBeside(guide.file);
  if (file === undefined || isAsLong(file, guide.lengthFrames / guide.rateHz)) return { file, notes: [] };
  const note = `The .guide.json beside ${basename(guide.file)} belongs to a sound of another length, so it was not used.`;
  return { file: undefined, notes: [note] };
}

/** Whether a guide's sound of a length can be the one its plan tells of. */
export function isAsLong({ plan }: GuideFile, lengthSec: number): boolean {
  return Math.abs(plan.lengthFrames / SESSION_RATE_HZ - lengthSec) <= SAME_LENGTH_SEC;
}

/** The plan of a guide whose sound was made by Partsong, as `guideFileBeside` finds it. */
export async function guidePlanBeside(guide: string): Promise<GuidePlan | undefined> {
  return (await guideFileBeside(guide))?.plan;
}

/** What a session keeps of a guide's plan; null for none. */
export function keptPlanOf(guide: GuideFile | undefined): KeptPlan | null {
  return guide === undefined
    ? null
    : keptPlan(
        guide.plan,
        guide.score.parts.map((part) => part.name),
      );
}

/**
 * Keeps a guide's `.guide.json` in a session's folder, so that the score is there even when the guide's own folder is gone.
 * fingerprint: of the guide's clip. Throws PartsongError as `writeWhole` does.
 */
export async function keepGuideFile(folder: string, fingerprint: string, guide: GuideFile): Promise<void> {
  await mkdir(join(folder, GUIDES_FOLDER), { recursive: true });
  await writeWhole(keptPath(folder, fingerprint), (path) => writeFile(path, guideFileText(guide)));
}

/** The `.guide.json` a session keeps of the guide with this fingerprint: settings and score; undefined where it has none. */
export function keptGuideFile(folder: string, fingerprint: string): Promise<GuideFile | undefined> {
  return readGuideFile(keptPath(folder, fingerprint));
}

function keptPath(folder: string, fingerprint: string): string {
  return join(folder, GUIDES_FOLDER, `${fingerprint.slice(0, 32)}.guide.json`);
}

async function readGuideFile(file: string): Promise<GuideFile | undefined> {
  try {
    if ((await stat(file)).size > LARGEST_BYTES) return undefined;
    const parsed = guideFile.safeParse(JSON.parse(await readFile(file, 'utf8')));
    if (!parsed.success) return undefined;
    const { title, plan, settings, score } = parsed.data;
    return { title, plan, settings, score };
  } catch {
    return undefined;
  }
}
