import { z } from 'zod';

const path = z.string().min(1).max(4096);
const bar = z.number().int().min(0).max(20_000);

/** What the user chose of a guide; ranges as in core/guide/guide-plan.ts and on the command line. */
export const guideChoiceSchema = z.strictObject({
  /** MIDI or MusicXML; null: a click without notes. */
  score: path.nullable(),
  title: z.string().max(200),
  /** Quarters per minute at the beginning; null: as the score says, else 90. */
  quartersPerMinute: z.number().min(5).max(1000).nullable(),
  /** Both without a score only. */
  metre: z.strictObject({
    beats: z.number().int().min(1).max(64),
    unit: z.union([z.literal(1), z.literal(2), z.literal(4), z.literal(8), z.literal(16), z.literal(32)]),
  }),
  bars: z.number().int().min(1).max(2000),
  settings: z.strictObject({
    silenceSec: z.number().min(0.5).max(60),
    cue: z.enum(['start', 'both']),
    countInBars: z.number().int().min(0).max(8),
    referenceHz: z.number().min(415).max(466),
    tuningSec: z.number().min(0).max(60),
    click: z.enum(['none', 'bars', 'beats', 'units']),
    restingBars: z.array(z.strictObject({ fromBar: bar, toBar: bar })).max(100),
  }),
  temperament: z.enum(['equal', 'pythagorean', 'meanTone', 'just']),
  /** 0 (C) to 11 (B). */
  tonic: z.number().int().min(0).max(11),
  clickDb: z.number().min(-40).max(12),
  /** A soft held tonic under the music. */
  drone: z.boolean(),
  /** One guide for all, or one for each voice as well. */
  versions: z.enum(['one', 'each']),
  /** The player's own voice in its guide against the others, dB; null leaves it out. */
  ownDb: z.number().min(-40).max(12).nullable(),
  /** Takes of the session sound in place of the mock-up of the voices of the same names. With a score only. */
  withTakes: z.boolean(),
  formats: z
    .array(z.enum(['wav', 'flac', 'm4a', 'mp3', 'mp4']))
    .min(1)
    .max(8),
});

export type GuideChoice = Readonly<z.infer<typeof guideChoiceSchema>>;
