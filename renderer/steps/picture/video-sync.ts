import { takeSecOf } from '../../../core/signal/clock.ts';
import type { TileClip } from './picture-model.ts';

/** What of a video element matters for keeping it in step, s. */
export interface VideoNow {
  readonly currentTime: number;
  readonly duration: number;
  readonly seeking: boolean;
  readonly playbackRate: number;
}

/** What a video is to do now. */
export interface VideoOrder {
  /** Where to go at once, s; null: it goes on from where it is. */
  readonly seekTo: number | null;
  readonly rate: number;
  readonly plays: boolean;
}

/** Beyond this it is quicker to jump than to catch up, s. */
const JUMP_SEC = 0.25;
/** Within this nothing is corrected while playing, s: the browser tells its time no finer. */
const NEAR_SEC = 0.006;
/** A clip with sound in it stumbles with every change of its rate: it is changed only when this far off, s. */
const NEAR_WITH_SOUND_SEC = 0.03;
/** A video that is late or early is brought back within about this long, s. */
const CATCH_UP_SEC = 0.5;
/** No faster or slower than this, share. */
const MOST_CHANGE = 0.12;
/** Rates are set in steps, so that they are not set anew with every picture. */
const RATE_STEP = 0.01;
/** While it stands still it is brought this near, s, and set a little into its picture. */
const STILL_SEC = 0.004;
const INTO_PICTURE_SEC = 0.001;
/** A jump while playing takes about so long to be seen, s. */
const JUMP_TAKES_SEC = 0.06;

/** The moment a video has to show at a session time, s of its file. ownZero: its time zero is the take's (a small copy). */
export function videoSecAt(clip: TileClip, sessionSec: number, ownZero: boolean): number {
  return takeSecOf(clip.place, sessionSec) + (ownZero ? 0 : clip.clip.zeroSec);
}

/**
 * Keeps a video in step: while playing by a rate a little off, or a jump where it is far off; else by going to the very
 * picture. hasSound: the file has a sound track, muted though it is. Before its beginning and after its end it stands still at its first and last picture.
 */
export function orderFor(wantedSec: number, playing: boolean, now: VideoNow, hasSound = false): VideoOrder {
  const endSec = Number.isFinite(now.duration) && now.duration > 0 ? now.duration : Number.POSITIVE_INFINITY;
  const held = Math.max(0, Math.min(endSec - 0.01, wantedSec));
  const off = held - now.currentTime;
  if (!playing || held !== wantedSec) {
    const isThere = Math.abs(off) <= STILL_SEC || now.seeking;
    return { seekTo: isThere ? null : held + (held === 0 ? 0 : INTO_PICTURE_SEC), rate: 1, plays: false };
  }
  if (Math.abs(off) > JUMP_SEC) {
    return { seekTo: now.seeking ? null : Math.min(endSec - 0.01, held + JUMP_TAKES_SEC), rate: 1, plays: true };
  }
  if (Math.abs(off) < (hasSound ? NEAR_WITH_SOUND_SEC : NEAR_SEC)) return { seekTo: null, rate: 1, plays: true };
  const change = Math.max(-MOST_CHANGE, Math.min(MOST_CHANGE, off / CATCH_UP_SEC));
  const rate = 1 + RATE_STEP * (Math.round(change / RATE_STEP) || Math.sign(change));
  return { seekTo: null, rate, plays: true };
}

/** Fewest and most videos that play at once, and how many for each of the computer's processors. */
const FEWEST = 4;
const MOST = 25;
const EACH_PROCESSOR = 4;

/** How many small videos this computer can be expected to play at once. */
export function playableCount(processors: number): number {
  return Math.max(FEWEST, Math.min(MOST, EACH_PROCESSOR * Math.max(1, processors)));
}

/** Which tiles move while it plays: the one in hand, then the largest ones. Gives voice ids. */
export function movingTiles(
  tiles: readonly {
    readonly voiceId: string;
    readonly box: { widthPx: number; heightPx: number };
    readonly clips: readonly unknown[];
  }[],
  most: number,
  inHand: string | null,
): ReadonlySet<string> {
  const size = (tile: (typeof tiles)[number]): number =>
    tile.voiceId === inHand ? Number.POSITIVE_INFINITY : tile.box.widthPx * tile.box.heightPx;
  const filmed = tiles.filter(({ clips }) => clips.length > 0);
  const first = filmed.toSorted((one, other) => (size(other) === size(one) ? 0 : size(other) - size(one)));
  return new Set(first.slice(0, most).map(({ voiceId }) => voiceId));
}
