import { z } from 'zod';
import { EVEN_PX, LARGEST_CANVAS_PX, SMALLEST_CANVAS_PX } from '../picture/canvas.ts';
import { LARGEST_ZOOM } from '../picture/crop.ts';
import { MOMENT_KINDS } from '../picture/moments.ts';
import { PICTURE_RATES } from '../picture/picture-rate.ts';
import { TILING_KINDS } from '../picture/tiling.ts';
import { LONGEST_FADE_SEC, LONGEST_TITLE_SEC } from './picture-limits.ts';

const id = z.string().min(1).max(64);
const sec = z.number().finite();
const evenSide = z.number().int().multipleOf(EVEN_PX);
const canvasSide = evenSide.min(SMALLEST_CANVAS_PX).max(LARGEST_CANVAS_PX);
const place = evenSide.min(0).max(LARGEST_CANVAS_PX);
const room = evenSide.min(0).max(400);
const colour = z.string().regex(/^#[0-9a-f]{6}$/);
const share = z.number().min(0).max(1);
const span = z
  .strictObject({ fromSec: sec, toSec: sec })
  .refine((value) => value.toSec > value.fromSec, 'toSec must be after fromSec');

const box = z.strictObject({ xPx: place, yPx: place, widthPx: evenSide.min(16), heightPx: evenSide.min(16) });

const momentSchema = z
  .strictObject({ fromSec: sec, toSec: sec, as: z.enum(MOMENT_KINDS), box: box.optional(), soft: z.boolean() })
  .refine((value) => value.toSec > value.fromSec, 'toSec must be after fromSec')
  .refine((value) => (value.as === 'box') === (value.box !== undefined), 'a box is for moments as box');

/** What was settled by hand for the tile of one voice; null leaves it to the tiling. */
export const tileSchema = z.strictObject({
  voiceId: id,
  /** false: the voice is heard only. */
  shown: z.boolean(),
  /** On the canvas, px. */
  box: box.nullable(),
  crop: z.strictObject({ focusX: share, focusY: share, zoom: z.number().min(1).max(LARGEST_ZOOM) }).nullable(),
  mirrored: z.boolean(),
  /** Where tiles lie over one another, the higher number is on top. */
  order: z.number().int().min(-1000).max(1000),
  /** Session time in which it is seen; null: always. */
  span: span.nullable(),
  /** Stretches of session time in which it is large, away, or elsewhere (`box`); soft: it glides there. */
  moments: z.array(momentSchema).max(200).optional(),
});

/** Everything that is chosen for the picture of a session. */
export const pictureSchema = z.strictObject({
  canvas: z.strictObject({ widthPx: canvasSide, heightPx: canvasSide }),
  /** null: that of the fastest clip, or higher where the tiles would be off their sound. */
  rate: z
    .strictObject({ over: z.number().int(), under: z.number().int() })
    .refine(({ over, under }) => PICTURE_RATES.some((one) => one.over === over && one.under === under), 'no such rate')
    .nullable(),
  tiling: z.strictObject({ kind: z.enum(TILING_KINDS), gapPx: room, marginPx: room, mostCrop: share }),
  /** null: the first voice in the lead. */
  leadVoiceId: id.nullable(),
  background: colour,
  roundingPx: room,
  borderPx: room,
  borderColour: colour,
  /** Exposure and white balance of the clips are brought nearer to one another. */
  matched: z.boolean().default(false),
  names: z.boolean(),
  title: z
    .strictObject({
      text: z.string().max(200),
      subtitle: z.string().max(200),
      lengthSec: z.number().min(0.5).max(LONGEST_TITLE_SEC),
    })
    .nullable(),
  fade: z.strictObject({
    inSec: z.number().min(0).max(LONGEST_FADE_SEC),
    outSec: z.number().min(0).max(LONGEST_FADE_SEC),
  }),
  /** What the video holds, session time; null: where the mix sounds. */
  span: span.nullable(),
  tiles: z.array(tileSchema).max(200),
});

/** Parts of the choices, for an edit. What is left out stays as it is, and so takes no default. */
export const picturePartsSchema = pictureSchema.extend({ matched: z.boolean() }).partial();

export type TileChoice = Readonly<z.infer<typeof tileSchema>>;
export type PictureChoice = Readonly<z.infer<typeof pictureSchema>>;
