import type { DeskView, SpanView } from '../../../app/shell/contract/desk-view.ts';
import type { Box, Size } from '../../../core/picture/canvas.ts';
import { usualCrop } from '../../../core/picture/clip-chain.ts';
import { type ClipPicture, shownSize } from '../../../core/picture/clip-picture.ts';
import { stackingOrder } from '../../../core/picture/composition.ts';
import { type Crop, cutFor } from '../../../core/picture/crop.ts';
import { bitsPerSec } from '../../../core/picture/output-arguments.ts';
import type { PicturePlan, PlannedTile, VoicePicture } from '../../../core/picture/picture-plan.ts';
import type { Place } from '../../../core/picture/picture-time.ts';
import { planPicture } from '../../../core/picture/plan-picture.ts';
import { boxAt, type TilePath } from '../../../core/picture/tile-path.ts';
import { designOf, momentOf, tileOf, usualPicture } from '../../../core/session/picture-choice.ts';
import type { PictureChoice, TileChoice } from '../../../core/session/picture-schema.ts';
import { leadOf, sessionPictures, type UnseenVoice } from '../../../core/session/voice-pictures.ts';
import { PartsongError } from '../../../core/signal/fault.ts';
import { SESSION_RATE_HZ } from '../../../core/signal/time.ts';

/** Sound of an upload, bit/s. */
const SOUND_BITS = 320_000;
/** Filters that are taken to be there until the desk has told. */
const USUAL_FILTERS = ['zscale', 'tonemap', 'xstack'];

/** A stretch of a take's clip in a tile. */
export interface TileClip {
  readonly takeId: string;
  readonly clip: ClipPicture;
  readonly place: Place;
  /** Session time in which it is seen. */
  readonly fromSec: number;
  readonly toSec: number;
  /** Nothing comes before or after it in its tile. */
  readonly isFirst: boolean;
  readonly isLast: boolean;
  /** Size as shown, and the part of it that is seen, px of the clip. */
  readonly shown: Size;
  readonly cut: Box;
}

/** A tile as the bench shows it. */
export interface PictureTile {
  readonly voiceId: string;
  readonly name: string;
  /** 0 to 7. */
  readonly colour: number;
  /** Where it lies otherwise, px of the canvas, and where over time. */
  readonly box: Box;
  readonly path: TilePath;
  /** None for a drawn tile. */
  readonly clips: readonly TileClip[];
  /** What was settled for it by hand. */
  readonly choice: TileChoice;
  /** What holds, settled or not; null for a drawn tile. */
  readonly crop: Crop | null;
}

/** All that the bench shows of a session's picture. */
export interface PictureModel {
  readonly picture: PictureChoice;
  /** Something was chosen. */
  readonly isChosen: boolean;
  readonly tiles: readonly PictureTile[];
  /** Voices whose tiles were hidden by hand. */
  readonly hidden: readonly { readonly voiceId: string; readonly name: string }[];
  readonly unseen: readonly UnseenVoice[];
  readonly leadId: string | undefined;
  /** What the video will hold, and the whole of the mix and its music, session time. */
  readonly span: SpanView;
  readonly whole: SpanView;
  readonly music: SpanView;
  readonly plan: PicturePlan | null;
  /** Why nothing can be rendered; null when it can. */
  readonly blocked: string | null;
  /** About how large the file will be, bytes. */
  readonly sizeBytes: number;
  /** Tiles were put by hand. */
  readonly isByHand: boolean;
}

/** The picture of a session as the view knows it. filters: of the desk's FFmpeg; null until it has told. */
export function pictureModel(view: DeskView, filters: readonly string[] | null): PictureModel {
  const { session, blend, takes } = view;
  const picture = session.picture ?? usualPicture();
  const whole = wholeOf(view);
  const music = blend?.span ?? whole;
  const span = pictureSpan(view);
  const takeOf = new Map<ClipPicture, string>();
  const { voices, unseen } = sessionPictures(session, span, (takeId) => {
    const clip = takes[takeId]?.picture?.clip ?? null;
    if (clip !== null) takeOf.set(clip, takeId);
    return clip;
  });
  const isShown = ({ voiceId }: VoicePicture): boolean => tileOf(picture, voiceId).shown;
  const planned = planOf(picture, voices, span, filters ?? USUAL_FILTERS);
  const plan = typeof planned === 'string' ? null : planned;
  const seen = voices.filter(isShown);
  const sizeBits = plan === null ? 0 : (bitsPerSec(plan.canvas, plan.rate) + SOUND_BITS) * plan.lengthSec;
  return {
    ...{ picture, isChosen: session.picture !== null, unseen, span, whole, music, plan },
    tiles: plan === null ? [] : seen.map((voice, index) => tileFor(voice, plan.tiles[index]!, picture, takeOf)),
    hidden: voices.filter((voice) => !isShown(voice)).map(({ voiceId, name }) => ({ voiceId, name })),
    leadId: leadOf(session),
    blocked: typeof planned === 'string' ? planned : blend === null ? 'The voices are still being balanced.' : null,
    sizeBytes: sizeBits / 8,
    isByHand: picture.tiles.some((tile) => tile.box !== null),
  };
}

/** What the video holds, session time: as chosen, else the music of the mix. */
export function pictureSpan(view: DeskView): SpanView {
  const { session, blend } = view;
  const chosen = session.picture?.span ?? null;
  return chosen === null ? (blend?.span ?? wholeOf(view)) : within(chosen, wholeOf(view));
}

function wholeOf({ blend }: DeskView): SpanView {
  return { fromSec: 0, toSec: Math.max(0.2, (blend?.lengthFrames ?? 0) / SESSION_RATE_HZ) };
}

function within(span: SpanView, whole: SpanView): SpanView {
  const fromSec = Math.min(Math.max(0, span.fromSec), whole.toSec - 0.2);
  return { fromSec, toSec: Math.max(fromSec + 0.2, Math.min(whole.toSec, span.toSec)) };
}

function planOf(
  picture: PictureChoice,
  voices: readonly VoicePicture[],
  span: SpanView,
  filters: readonly string[],
): PicturePlan | string {
  const ids = voices.map(({ voiceId }) => voiceId);
  const sound = { file: 'mix.wav', rateHz: SESSION_RATE_HZ, startSec: 0, gainDb: 0 };
  try {
    return planPicture({ design: designOf(picture, ids), voices, span, sound, filters: new Set(filters) });
  } catch (error) {
    if (error instanceof PartsongError) return error.message;
    throw error;
  }
}

function tileFor(
  voice: VoicePicture,
  { box, path }: PlannedTile,
  picture: PictureChoice,
  takeOf: ReadonlyMap<ClipPicture, string>,
): PictureTile {
  const choice = tileOf(picture, voice.voiceId);
  const last = voice.pieces.length - 1;
  const clips = voice.pieces.flatMap(({ picture: clip, place, fromSec, toSec }, index): TileClip[] => {
    const takeId = clip === null ? undefined : takeOf.get(clip);
    if (clip === null || takeId === undefined) return [];
    const shown = shownSize(clip);
    const cut = cutFor(shown, box, choice.crop ?? usualCrop(shown, box));
    return [{ ...{ takeId, clip, place, fromSec, toSec, shown, cut }, isFirst: index === 0, isLast: index === last }];
  });
  const [first] = clips;
  return {
    ...{ voiceId: voice.voiceId, name: voice.name, colour: voice.colour, box, path, clips, choice },
    crop: first === undefined ? null : (choice.crop ?? usualCrop(first.shown, box)),
  };
}

/** Shapes of the tiles' clips, width to height; a drawn tile takes the mean shape of the others, as the plan has it. */
export function tileAspects(tiles: readonly PictureTile[]): number[] {
  const told = tiles.map(({ clips: [first] }) =>
    first === undefined ? null : first.shown.widthPx / first.shown.heightPx,
  );
  const known = told.filter((aspect) => aspect !== null);
  const mean = Math.exp(known.reduce((sum, aspect) => sum + Math.log(aspect), 0) / Math.max(1, known.length));
  return told.map((aspect) => aspect ?? mean);
}

/** Where a clip's whole picture lies so that its cut fills a box, in shares of the box: left, top, width, height. */
export function pictureInBox(shown: Size, cut: Box): { left: number; top: number; width: number; height: number } {
  return {
    left: -cut.xPx / cut.widthPx,
    top: -cut.yPx / cut.heightPx,
    width: shown.widthPx / cut.widthPx,
    height: shown.heightPx / cut.heightPx,
  };
}

/** The topmost tile at a place on the canvas, besides one. */
export function tileAt(
  tiles: readonly PictureTile[],
  xPx: number,
  yPx: number,
  besides: string | null,
): PictureTile | undefined {
  return inOrder(tiles).findLast(
    ({ voiceId, box }) =>
      voiceId !== besides &&
      xPx >= box.xPx &&
      yPx >= box.yPx &&
      xPx < box.xPx + box.widthPx &&
      yPx < box.yPx + box.heightPx,
  );
}

/** Tiles from the lowest to the topmost, as the video stacks them. */
export function inOrder(tiles: readonly PictureTile[]): PictureTile[] {
  const laid = tiles.map(({ choice, path }) => ({
    path,
    design: { voiceId: choice.voiceId, order: choice.order, moments: (choice.moments ?? []).map(momentOf) },
  }));
  return stackingOrder(laid).map((index) => tiles[index]!);
}

/** The tiles lie otherwise at a session time than they do outside of moments. */
export function isMomentAt(tiles: readonly PictureTile[], sessionSec: number): boolean {
  return tiles.some(({ box, path }) => {
    const now = boxAt(path, sessionSec);
    return now.xPx !== box.xPx || now.yPx !== box.yPx || now.widthPx !== box.widthPx || now.heightPx !== box.heightPx;
  });
}
