import type { Box, Size } from './canvas.ts';
import type { ClipPicture } from './clip-picture.ts';
import type { Drawing } from './drawings.ts';
import type { FilterGraph } from './filter-graph.ts';
import type { PictureDesign, SessionSpan } from './picture-design.ts';
import type { PictureRate } from './picture-rate.ts';
import type { Place } from './picture-time.ts';
import type { RateChoice } from './rate-choice.ts';
import type { TilePath } from './tile-path.ts';
import type { Quality } from './tiling-quality.ts';
import type { ToneChange } from './tone-match.ts';

/** A stretch of one clip that is seen in a voice's tile. */
export interface VoicePiece {
  /** null: this stretch has sound only. */
  readonly picture: ClipPicture | null;
  readonly place: Place;
  /** Session time, s; pieces of a voice follow one another without gaps. */
  readonly fromSec: number;
  readonly toSec: number;
}

/** A voice as the canvas knows it. */
export interface VoicePicture {
  readonly voiceId: string;
  readonly name: string;
  readonly isLead: boolean;
  /** One of VOICE_COLOURS, 0 to 7. */
  readonly colour: number;
  /** One for a voice of one take; several where passages are joined. */
  readonly pieces: readonly VoicePiece[];
  /** Highest magnitudes over the video, 0 to 1, for a voice that has to be drawn; empty where they are not known. */
  readonly peaks: readonly number[];
  /** What matches its exposure and white balance to the others'; absent: it stays as it was filmed. */
  readonly tone?: ToneChange | null;
}

/** The sound that goes under the picture. */
export interface MixSound {
  readonly file: string;
  readonly rateHz: number;
  /** Session time of its first frame, s. */
  readonly startSec: number;
  /** Added to its level, dB. */
  readonly gainDb: number;
}

export interface PictureRequest {
  readonly design: PictureDesign;
  readonly voices: readonly VoicePicture[];
  /** What the video holds, session time. */
  readonly span: SessionSpan;
  readonly sound: MixSound | null;
  /** Names of the filters of the FFmpeg that will run it. */
  readonly filters: ReadonlySet<string>;
}

/** A tile as it will be rendered. */
export interface PlannedTile {
  readonly voiceId: string;
  readonly name: string;
  /** Where it lies otherwise, and where over time. */
  readonly box: Box;
  readonly path: TilePath;
  /** 'clip', or 'drawn' where there is no picture. */
  readonly kind: 'clip' | 'drawn';
  /** Part of the (first) clip's shown picture that is seen, px; null for a drawn tile. */
  readonly cut: Box | null;
  /** How far picture and sound lie apart at most, s: rounding to pictures of the canvas. */
  readonly worstOffsetSec: number;
}

/** What a render will make, and what it leaves out and why; can be shown before a byte is written. */
export interface PicturePlan {
  readonly canvas: Size;
  readonly rate: PictureRate;
  /** Whether the rate was given by hand, is the fastest clip's, or a higher one so that picture and sound keep together. */
  readonly rateBy: RateChoice['by'];
  readonly pictures: number;
  /** Session time of the first picture, s. */
  readonly fromSec: number;
  readonly lengthSec: number;
  /** The sound's first frame and the one after its last, counted in its file; null without sound. */
  readonly sound: { readonly fromFrame: number; readonly toFrame: number } | null;
  readonly tiles: readonly PlannedTile[];
  readonly quality: Quality;
  /** 'stack' where cells can be stacked, which is quicker; else 'overlay'. */
  readonly way: 'stack' | 'overlay';
  readonly drawings: readonly Drawing[];
  readonly graph: FilterGraph;
  /** Labels of what the graph gives. */
  readonly outputs: { readonly picture: string; readonly sound: string | null };
  /** Plain sentences. */
  readonly notes: readonly string[];
}
