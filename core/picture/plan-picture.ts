import { sessionSecOf } from '../signal/clock.ts';
import { PartsongError } from '../signal/fault.ts';
import { secondsToFrames } from '../signal/time.ts';
import { aspectOf, type Box, checkedCanvas } from './canvas.ts';
import { shownSize } from './clip-picture.ts';
import { composeGraph } from './compose-graph.ts';
import type { TileSource } from './composition.ts';
import { designFaults, type PictureDesign, type SessionSpan, type TileDesign } from './picture-design.ts';
import type { PicturePlan, PictureRequest, PlannedTile, VoicePicture, VoicePiece } from './picture-plan.ts';
import { type PictureRate, pictureSec, picturesWithin } from './picture-rate.ts';
import { bestPhase, type Place, worstOffsetSec } from './picture-time.ts';
import { clipNotes, costNotes } from './plan-notes.ts';
import { chooseRate, rateInSentence } from './rate-choice.ts';
import { tilePaths } from './tile-path.ts';
import { tile } from './tiling.ts';
import { qualityOf } from './tiling-quality.ts';

/** The shortest video, s. */
const SHORTEST_SEC = 0.2;

/** A voice that is seen, with what was settled for it by hand. */
export interface SeenVoice {
  readonly voice: VoicePicture;
  readonly design: TileDesign;
  /** Its pieces within the video; those whose clips have nothing to show there have no picture. */
  readonly pieces: readonly VoicePiece[];
}

/**
 * Plans a video: when each picture is shown, where each tile lies, and FFmpeg's graph for it. Pure; nothing is opened.
 * Throws PartsongError 'bad-option' for a canvas, a design or a span that cannot be rendered, 'no-picture' where no clip
 * has a picture.
 */
export function planPicture(request: PictureRequest): PicturePlan {
  const { design, voices, span } = request;
  checkedCanvas(design.canvas);
  refuse(designFaults(design));
  if (!(span.toSec - span.fromSec >= SHORTEST_SEC)) {
    refuse([`The video would be ${Math.max(0, span.toSec - span.fromSec).toFixed(2)} s long.`]);
  }
  const seen = voices
    .map((voice): SeenVoice => {
      const tileDesign = design.tiles.find(({ voiceId }) => voiceId === voice.voiceId) ?? { voiceId: voice.voiceId };
      return { voice, design: tileDesign, pieces: piecesWithin(voice, span) };
    })
    .filter((one) => one.design.shown !== false);
  refuseWithoutPicture(seen);
  const clips = seen.flatMap(({ voice: { name }, pieces }) =>
    pieces.flatMap(({ picture, place }) => (picture ? [{ picture, place, name }] : [])),
  );
  const rateChoice = chooseRate(design.rate, clips, span);
  const { rate } = rateChoice;
  const { fromSec, pictures } = timesOf(request, rate, clips);
  const lengthSec = pictureSec(pictures, rate);
  const boxes = boxesOf(seen, design);
  const whole = { fromSec, toSec: fromSec + lengthSec };
  const laid = seen.map((one, index) => ({ ...one, box: boxes[index]! }));
  const paths = tilePaths(laid, whole, (index) => leadBoxes(seen, design, index));
  const tiles = laid.map((one, index): TileSource => ({ ...one, path: paths[index]! }));
  const frames = soundFrames(request, whole);
  const composed = composeGraph({ ...request, tiles, rate, fromSec, pictures, frames });
  const planned = tiles.map((one, index): PlannedTile => plannedTile(one, composed.cuts[index] ?? null, whole, rate));
  const quality = qualityOf(design.canvas, aspectsOf(seen), boxes, leadOf(seen, design));
  return {
    canvas: design.canvas,
    rate,
    rateBy: rateChoice.by,
    pictures,
    fromSec,
    lengthSec,
    sound: frames,
    tiles: planned,
    quality,
    way: composed.way,
    drawings: composed.drawings,
    graph: composed.graph,
    outputs: composed.outputs,
    notes: [
      ...clipNotes(tiles, whole),
      ...composed.notes,
      ...[rateInSentence(rateChoice)].filter((note) => note !== undefined),
      ...costNotes(planned, tiles, design.canvas, rate),
    ],
  };
}

function refuse(faults: readonly string[]): void {
  if (faults.length === 0) return;
  throw new PartsongError('bad-option', faults.join(' '), 'Change the canvas, the tiles or the trim, and try again.');
}

function refuseWithoutPicture(seen: readonly SeenVoice[]): void {
  if (seen.some(({ pieces }) => pieces.some(({ picture }) => picture !== null))) return;
  throw new PartsongError(
    'no-picture',
    seen.length === 0
      ? 'No voice is to be seen, so there is no video to make.'
      : 'None of the clips has a picture in this stretch, so there is no video to make.',
    'Give at least one clip that was filmed; the mix itself is sound enough for the rest.',
  );
}

/** A voice's pieces cut to the video; a piece whose clip shows nothing at all in its stretch becomes one to draw. */
function piecesWithin(voice: VoicePicture, span: SessionSpan): VoicePiece[] {
  const pieces = voice.pieces
    .map((piece) => ({
      ...piece,
      fromSec: Math.max(piece.fromSec, span.fromSec),
      toSec: Math.min(piece.toSec, span.toSec),
    }))
    .filter((piece) => piece.toSec > piece.fromSec)
    .map((piece) => (showsAnything(piece) ? piece : { ...piece, picture: null }));
  const place: Place = { offsetSec: 0, driftPpm: 0 };
  return pieces.length > 0 ? pieces : [{ picture: null, place, ...span }];
}

function showsAnything({ picture, place, fromSec, toSec }: VoicePiece): boolean {
  if (picture === null) return false;
  return sessionSecOf(place, picture.startSec) < toSec && sessionSecOf(place, picture.endSec) > fromSec + 0.05;
}

function timesOf(
  { span, sound }: PictureRequest,
  rate: PictureRate,
  clips: Parameters<typeof bestPhase>[3],
): { fromSec: number; pictures: number } {
  const wanted = bestPhase(span.fromSec, span.toSec, rate, clips);
  // The first picture and the first sound are at one instant: a frame of the sound.
  const fromSec = sound === null ? wanted : Math.round(wanted * sound.rateHz) / sound.rateHz;
  return { fromSec, pictures: picturesWithin(span.toSec - fromSec, rate) };
}

function soundFrames({ sound }: PictureRequest, span: SessionSpan): { fromFrame: number; toFrame: number } | null {
  if (sound === null) return null;
  const fromFrame = secondsToFrames(span.fromSec - sound.startSec, sound.rateHz);
  if (fromFrame < 0) refuse(['The video begins before its sound.']);
  return { fromFrame, toFrame: fromFrame + secondsToFrames(span.toSec - span.fromSec, sound.rateHz) };
}

/** Shapes of what the voices show: of the first clips; a drawn tile takes on the mean of the others. */
function aspectsOf(seen: readonly SeenVoice[]): number[] {
  const told = seen.map(({ pieces }) => {
    const first = pieces.find(({ picture }) => picture !== null)?.picture;
    return first ? aspectOf(shownSize(first)) : undefined;
  });
  const known = told.filter((aspect) => aspect !== undefined);
  const mean = Math.exp(known.reduce((sum, aspect) => sum + Math.log(aspect), 0) / Math.max(1, known.length));
  return told.map((aspect) => aspect ?? mean);
}

function leadOf(seen: readonly SeenVoice[], { tiling, leadId }: PictureDesign): number | undefined {
  const chosen = seen.findIndex(({ voice }) => voice.voiceId === leadId);
  const lead = chosen >= 0 ? chosen : seen.findIndex(({ voice }) => voice.isLead);
  return tiling.kind === 'lead' ? Math.max(0, lead) : undefined;
}

/** Boxes by the tiling, or as they were put by hand. */
function boxesOf(seen: readonly SeenVoice[], design: PictureDesign): Box[] {
  const byHand = seen.map(({ design: own }) => own.box);
  if (byHand.every((box) => box !== undefined)) return byHand;
  const tiling = tile(design.canvas, aspectsOf(seen), { ...design.tiling, leadIndex: leadOf(seen, design) });
  return seen.map((_, index) => byHand[index] ?? tiling.boxes[index]!);
}

/** The boxes of all while one is large: it leads, and the others make room. */
function leadBoxes(seen: readonly SeenVoice[], { canvas, tiling }: PictureDesign, leadIndex: number): readonly Box[] {
  return tile(canvas, aspectsOf(seen), { ...tiling, kind: 'lead', leadIndex }).boxes;
}

function plannedTile(source: TileSource, cut: Box | null, span: SessionSpan, rate: PictureRate): PlannedTile {
  const offsets = source.pieces.flatMap(({ picture, place }) =>
    picture === null ? [] : [worstOffsetSec({ picture, place }, span, rate)],
  );
  return {
    voiceId: source.voice.voiceId,
    name: source.voice.name,
    box: source.box,
    path: source.path,
    kind: offsets.length > 0 ? 'clip' : 'drawn',
    cut,
    worstOffsetSec: Math.max(0, ...offsets),
  };
}
