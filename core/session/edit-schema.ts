import { z } from 'zod';
import type { Edit } from './edit.ts';
import { keptPlanSchema } from './kept-plan.ts';
import { picturePartsSchema, tileSchema } from './picture-schema.ts';
import { placementParts } from './placement-parts.ts';
import { placementSchema, spanSchema } from './placement-schema.ts';
import {
  characters,
  cleanSchema,
  clipRefSchema,
  idSchema,
  mendSchema,
  passagesSchema,
  roles,
  takeSchema,
  voiceSchema,
} from './schema.ts';

const voiceId = idSchema;
const takeId = idSchema;
const name = voiceSchema.shape.name;

const single = z.discriminatedUnion('kind', [
  z.strictObject({ kind: z.literal('addVoice'), voice: voiceSchema, at: z.number().int().nonnegative().optional() }),
  z.strictObject({ kind: z.literal('removeVoice'), voiceId }),
  z.strictObject({ kind: z.literal('moveVoice'), voiceId, to: z.number().int() }),
  z.strictObject({ kind: z.literal('renameVoice'), voiceId, name }),
  z.strictObject({ kind: z.literal('setRole'), voiceId, role: z.enum(roles) }),
  z.strictObject({ kind: z.literal('setColour'), voiceId, colour: voiceSchema.shape.colour }),
  z.strictObject({ kind: z.literal('setTrim'), voiceId, trimDb: voiceSchema.shape.trimDb }),
  z.strictObject({ kind: z.literal('setPlace'), voiceId, placeDeg: voiceSchema.shape.placeDeg }),
  z.strictObject({ kind: z.literal('setMuted'), voiceId, muted: z.boolean() }),
  z.strictObject({ kind: z.literal('chooseTake'), voiceId, takeId: takeId.nullable() }),
  z.strictObject({ kind: z.literal('setPassages'), voiceId, passages: passagesSchema.nullable() }),
  z.strictObject({ kind: z.literal('addTake'), take: takeSchema }),
  z.strictObject({ kind: z.literal('removeTake'), takeId }),
  z.strictObject({ kind: z.literal('moveTake'), takeId, voiceId }),
  z.strictObject({ kind: z.literal('renameTake'), takeId, name: takeSchema.shape.name }),
  z.strictObject({ kind: z.literal('setMark'), takeId, mark: takeSchema.shape.mark.unwrap() }),
  z.strictObject({ kind: z.literal('setRemark'), takeId, remark: takeSchema.shape.remark.unwrap() }),
  z.strictObject({ kind: z.literal('setSilence'), takeId, silence: spanSchema.nullable() }),
  z.strictObject({ kind: z.literal('setClean'), takeId, clean: cleanSchema }),
  z.strictObject({ kind: z.literal('setPlacement'), takeId, placement: placementSchema.nullable() }),
  z.strictObject({
    kind: z.literal('changePlacement'),
    takeId,
    changes: placementSchema.partial(),
    gone: z.array(z.enum(placementParts)).max(placementParts.length),
  }),
  z.strictObject({ kind: z.literal('setMend'), takeId, mend: mendSchema.nullable() }),
  z.strictObject({ kind: z.literal('setPart'), takeId, part: spanSchema.nullable() }),
  z.strictObject({ kind: z.literal('relinkTake'), takeId, clip: clipRefSchema }),
  z.strictObject({
    kind: z.literal('setGuide'),
    clip: clipRefSchema.nullable(),
    plan: keptPlanSchema.nullable().optional(),
  }),
  z.strictObject({ kind: z.literal('setTitle'), title: z.string().max(200) }),
  z.strictObject({
    kind: z.literal('setTarget'),
    targetLufs: z.number().min(-40).max(-5),
    ceilingDbtp: z.number().min(-12).max(0),
  }),
  z.strictObject({ kind: z.literal('setPicture'), parts: picturePartsSchema.nullable() }),
  z.strictObject({ kind: z.literal('setTile'), voiceId, tile: tileSchema.nullable() }),
]);

const MOST_TOGETHER = 5000;

/** Checks an edit that comes from outside: from the screen, or from the history on the disk. */
export const editSchema: z.ZodType<Edit> = z.union([
  single,
  z.strictObject({
    kind: z.literal('together'),
    label: z.string().max(200),
    edits: z.array(single).max(MOST_TOGETHER),
  }),
]) as z.ZodType<Edit>;

/** The characters a take can be cleaned with, for checks elsewhere. */
export const characterSchema = z.enum(characters);
