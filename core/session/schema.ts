import { z } from 'zod';
import { PartsongError } from '../signal/fault.ts';
import { keptPlanSchema } from './kept-plan.ts';
import { migrations } from './migrations.ts';
import { passagesFault } from './passages-fault.ts';
import { pictureSchema } from './picture-schema.ts';
import {
  type foundSchema,
  placementSchema,
  secondsSchema,
  spanSchema,
  type trailPoint,
  type witness,
} from './placement-schema.ts';

/** The version this code writes. A newer one is refused with a sentence, an older one is migrated. */
export const SESSION_VERSION = 6;

export const idSchema = z.string().min(1).max(64);

/** Where a clip lies and how to know it again. `path` is relative to the session's folder where it lies inside it. */
export const clipRefSchema = z.strictObject({
  path: z.string().min(1),
  sizeBytes: z.number().int().nonnegative(),
  /** SHA-256 over size, head, middle and tail of the file: knows it again under another name. */
  fingerprint: z.string().regex(/^[0-9a-f]{64}$/),
});

export const characters = ['gentle', 'even', 'firm'] as const;
export const gainRules = ['lsa', 'wiener', 'subtract'] as const;
export const roles = ['lead', 'inner', 'bass', 'free'] as const;

export const cleanSchema = z.strictObject({
  on: z.boolean(),
  character: z.enum(characters),
  rule: z.enum(gainRules),
  /** Settings moved away from the character's own; null leaves all to the character. Ranges as in core/noise/settings.ts. */
  fine: z
    .strictObject({
      reductionDb: z.number().min(0).max(60),
      steadiness: z.number().min(0.8).max(0.99),
      marginDb: z.number().min(-6).max(12),
      lineMarginDb: z.number().min(0).max(20),
      follow: z.boolean(),
      restoreClipped: z.boolean(),
    })
    .nullable(),
});

/** Farthest that a take may be moved in pitch, cents, and a stretch of it in time, ms. */
export const FARTHEST_MEND_CENTS = 50;
export const FARTHEST_NUDGE_MS = 60;
const MOST_MENDS = 200;
const mendCents = z.number().min(-FARTHEST_MEND_CENTS).max(FARTHEST_MEND_CENTS);

/** What is mended in a take, by choice. All times are the take's own. */
export const mendSchema = z.strictObject({
  /** The whole take, cents. */
  cents: mendCents,
  /** On top of it, straight between these moments and level outside them, in order; against a pitch that sinks. */
  curve: z
    .array(z.strictObject({ atSec: secondsSchema, cents: mendCents }))
    .max(MOST_MENDS)
    .refine(
      (points) => points.every((one, n) => n === 0 || one.atSec > points[n - 1]!.atSec),
      'points must be in order',
    ),
  /** Stretches that are to sound later (positive) or earlier, in order and apart. */
  nudges: z
    .array(
      z
        .strictObject({
          fromSec: secondsSchema,
          toSec: secondsSchema,
          byMs: z.number().min(-FARTHEST_NUDGE_MS).max(FARTHEST_NUDGE_MS),
        })
        .refine((one) => one.toSec > one.fromSec, 'toSec must be after fromSec'),
    )
    .max(MOST_MENDS)
    .refine((all) => all.every((one, n) => n === 0 || one.fromSec >= all[n - 1]!.toSec), 'stretches must lie apart'),
});

export const takeMarks = ['none', 'good', 'best', 'no'] as const;

const LONGEST_REMARK = 2000;

export const takeSchema = z.strictObject({
  id: idSchema,
  name: z.string().min(1).max(200),
  voiceId: idSchema,
  clip: clipRefSchema,
  /** The stretch of the clip that this take is, in the clip's time: the take's time zero is its beginning. null: the whole clip. */
  part: spanSchema.nullable().default(null),
  /** Chosen by hand; null leaves it to the finder. Seconds in the take's own time. */
  silence: spanSchema.nullable(),
  clean: cleanSchema,
  placement: placementSchema.nullable(),
  /** null: nothing is. */
  mend: mendSchema.nullable().default(null),
  /** What the player thinks of it. */
  mark: z.enum(takeMarks).default('none'),
  remark: z.string().max(LONGEST_REMARK).default(''),
});

/** A stretch of session time in which a voice sounds with one of its takes; see passages.ts. */
export const passageSchema = z
  .strictObject({ takeId: idSchema, fromSec: secondsSchema, toSec: secondsSchema })
  .refine((value) => value.toSec > value.fromSec, 'toSec must be after fromSec');

const MOST_PASSAGES = 500;

/** Passages of a voice, in order and without gaps. */
export const passagesSchema = z.array(passageSchema).max(MOST_PASSAGES);

export const voiceSchema = z.strictObject({
  id: idSchema,
  name: z.string().min(1).max(200),
  role: z.enum(roles),
  /** One of the Okabe-Ito colours, by index 0 to 7. */
  colour: z.number().int().min(0).max(7),
  /** Fine move by hand on top of the blend's own gain. */
  trimDb: z.number().min(-40).max(20),
  /** Angle on the stage, degrees, left negative; null leaves it to the blend. */
  placeDeg: z.number().min(-90).max(90).nullable(),
  muted: z.boolean(),
  chosenTakeId: idSchema.nullable(),
  /** null: it sounds with its chosen take alone. */
  passages: passagesSchema.min(2).nullable().default(null),
});

const MOST_VOICES = 200;
const MOST_TAKES = 2000;

const session = z.strictObject({
  format: z.literal('partsong-session'),
  version: z.literal(SESSION_VERSION),
  title: z.string().max(200),
  rateHz: z.literal(48000),
  /** `plan` is null for a guide that Partsong did not make. */
  guide: z.strictObject({ clip: clipRefSchema, plan: keptPlanSchema.nullable() }).nullable(),
  voices: z.array(voiceSchema).max(MOST_VOICES),
  takes: z.array(takeSchema).max(MOST_TAKES),
  mix: z.strictObject({
    targetLufs: z.number().min(-40).max(-5),
    ceilingDbtp: z.number().min(-12).max(0),
  }),
  /** null: nothing was chosen yet. */
  picture: pictureSchema.nullable(),
});

export type ClipRef = Readonly<z.infer<typeof clipRefSchema>>;
export type Span = Readonly<z.infer<typeof spanSchema>>;
export type Witness = Readonly<z.infer<typeof witness>>;
export type Placement = Readonly<z.infer<typeof placementSchema>>;
export type FoundPlace = Readonly<z.infer<typeof foundSchema>>;
export type CleanChoice = Readonly<z.infer<typeof cleanSchema>>;
export type Take = Readonly<z.infer<typeof takeSchema>>;
export type Mend = Readonly<z.infer<typeof mendSchema>>;
export type TrailPoint = Readonly<z.infer<typeof trailPoint>>;
export type TakeMark = Take['mark'];
export type Passage = Readonly<z.infer<typeof passageSchema>>;
export type Voice = Readonly<z.infer<typeof voiceSchema>>;
export type Role = Voice['role'];
/** A session as plain, immutable JSON. */
export type Session = Readonly<z.infer<typeof session>>;

/**
 * Reads the text of a session.json. Every field is checked and a fault names the path of the first wrong one.
 * Throws PartsongError 'session-damaged' or 'session-newer'.
 */
export function parseSession(text: string, file: string): Session {
  let raw: unknown;
  try {
    raw = JSON.parse(text);
  } catch (cause) {
    throw damaged(file, 'it is not valid JSON', cause);
  }
  if (typeof raw !== 'object' || raw === null) throw damaged(file, 'it holds no session');
  let document = raw as Record<string, unknown>;
  const version = document['version'];
  if (document['format'] !== 'partsong-session' || typeof version !== 'number') {
    throw damaged(file, 'it is not a Partsong session');
  }
  if (version > SESSION_VERSION) {
    throw new PartsongError(
      'session-newer',
      `The session ${file} was written by a newer Partsong (format ${version}; this one reads up to ${SESSION_VERSION}).`,
      'Update Partsong, or open the session where it was made.',
      file,
    );
  }
  for (const migrate of migrations.slice(Math.max(0, version - 1))) document = migrate(document);
  const parsed = session.safeParse(document);
  if (!parsed.success) {
    const issue = parsed.error.issues[0]!;
    throw damaged(file, `${issue.path.join('.') || 'the document'}: ${issue.message}`);
  }
  const fault = brokenReference(parsed.data);
  if (fault !== undefined) throw damaged(file, fault);
  return parsed.data;
}

/** The text of a session.json. */
export function formatSession(value: Session): string {
  return `${JSON.stringify(value, undefined, 2)}\n`;
}

/** A session without voices. */
export function emptySession(title: string): Session {
  return {
    format: 'partsong-session',
    version: SESSION_VERSION,
    title,
    rateHz: 48000,
    guide: null,
    voices: [],
    takes: [],
    mix: { targetLufs: -14, ceilingDbtp: -1 },
    picture: null,
  };
}

/**
 * What makes a session one that could not be read again, in words; undefined when nothing does. For a session that
 * checked edits led to: looks at what no single edit can know (ids that name nothing, too many voices or takes).
 */
export function sessionFault(value: Session): string | undefined {
  if (value.voices.length > MOST_VOICES) return `a session holds ${MOST_VOICES} voices at most`;
  if (value.takes.length > MOST_TAKES) return `a session holds ${MOST_TAKES} takes at most`;
  return brokenReference(value);
}

function damaged(file: string, why: string, cause?: unknown): PartsongError {
  return new PartsongError(
    'session-damaged',
    `The session ${file} cannot be read: ${why}.`,
    'Open one of the older copies that lie beside it (session.json.1, session.json.2), or make the session anew; your clips are untouched.',
    file,
    { cause },
  );
}

function brokenReference(value: Session): string | undefined {
  const voiceIds = new Set(value.voices.map((one) => one.id));
  const takeIds = new Set(value.takes.map((one) => one.id));
  if (voiceIds.size !== value.voices.length) return 'two voices share one id';
  if (takeIds.size !== value.takes.length) return 'two takes share one id';
  const homeless = value.takes.findIndex((one) => !voiceIds.has(one.voiceId));
  if (homeless >= 0) return `takes.${homeless}.voiceId names no voice`;
  const unmatched = value.voices.findIndex((one) => one.chosenTakeId !== null && !takeIds.has(one.chosenTakeId));
  if (unmatched >= 0) return `voices.${unmatched}.chosenTakeId names no take`;
  const voiceOf = new Map(value.takes.map((one) => [one.id, one.voiceId]));
  for (const [index, { id, passages }] of value.voices.entries()) {
    const fault = passagesFault(passages ?? [], (takeId) => voiceOf.get(takeId) === id);
    if (fault !== undefined) return `voices.${index}.passages: ${fault}`;
  }
  return undefined;
}
