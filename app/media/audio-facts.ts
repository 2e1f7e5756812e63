import type { Banner, BannerStream } from './banner.ts';
import type { Zero } from './clip-zero.ts';
import type { Mp4Track } from './mp4-facts.ts';
import { isInOrder, type SoundEdit, soundEdits } from './sound-edits.ts';
import { type SoundPace, soundPace } from './sound-pace.ts';
import { STAMP_TOLERANCE_SEC } from './time-line.ts';

/** A stream of sound in a clip. */
export interface AudioFacts {
  /** FFmpeg's number of the stream in its file. */
  readonly index: number;
  /** FFmpeg's name of the codec. */
  readonly codec: string;
  readonly rateHz: number;
  readonly channels: number;
  /** FFmpeg's name of the channel layout, for example `stereo`. */
  readonly layout: string;
  /** Clip time at which the stream begins, s; the sound before it is silence. */
  readonly startSec: number;
  /** Clip time at which the stream ends, s, exact to a frame; absent where only decoding tells. */
  readonly endSec: number | undefined;
  readonly isDefault: boolean;
  /** Frames of encoder delay that the container keeps quiet about and that decoding takes off. */
  readonly primingFrames: number;
  /**
   * Container time of clip time zero for this stream, frames; absent where the container has no time line and the first
   * decoded frame is time zero (after its encoder delay), whatever number it bears.
   */
  readonly zeroFrame: number | undefined;
  /** Where its time stamps run evenly apart from its count of samples: how, from the file's own table. */
  readonly pace?: SoundPace;
  /** Where an edit list cuts it into several pieces: which. */
  readonly edits?: readonly SoundEdit[];
}

/** What is told of a stream of sound. track: of an MP4 or QuickTime file; startSec: container time of its first packet, s. */
export function audioFacts(
  stream: BannerStream,
  track: Mp4Track | undefined,
  startSec: number | undefined,
  zero: Zero,
  primingFrames: number,
): AudioFacts {
  const { index, codec, rateHz, channels, layout, isDefault } = stream;
  const isTold = codec === 'aac' && track !== undefined && rateHz > 0;
  const pace = isTold ? soundPace(track.stampRuns, track.ticksPerSec, rateHz, STAMP_TOLERANCE_SEC) : undefined;
  const edits = track === undefined ? undefined : soundEdits(track.shown, rateHz);
  const streamStartSec = (startSec ?? 0) - (zero.soundSec ?? 0) + primingFrames / Math.max(1, rateHz);
  return {
    index,
    codec,
    rateHz,
    channels,
    layout,
    startSec: zero.soundSec === undefined ? 0 : (track?.startSec ?? Math.max(0, streamStartSec)),
    endSec: track?.endSec,
    isDefault,
    primingFrames,
    zeroFrame: zero.soundSec === undefined ? undefined : Math.round(zero.soundSec * rateHz),
    ...(pace === undefined ? {} : { pace }),
    ...(edits === undefined ? {} : { edits }),
  };
}

/** FFmpeg leaves out the delay that iTunSMPB tells, but starts to count before it. */
export function withGapless(facts: AudioFacts, gapless: Banner['gapless']): AudioFacts {
  if (gapless === undefined || gapless.soundFrames === 0) return facts;
  return { ...facts, zeroFrame: gapless.delayFrames, startSec: 0, endSec: gapless.soundFrames / facts.rateHz };
}

/** Ends of streams that lie farther apart are told, s: those of phones lie within a few pictures and packets. */
const ENDS_APART_SEC = 0.2;

/** Where a clip's picture ends otherwise than its sound, and what is told of that. */
export interface EndsApart {
  /** Clip time, as its sound counts it, at which the picture ends, s. */
  readonly pictureEndSec: number;
  /** One of the clip's notes; of a part of the clip it is not true. */
  readonly note: string;
}

/** Whether a stream and its picture end together; undefined where they do, or where that is not told. */
export function endsApart({ pace, endSec }: AudioFacts, pictureEndSec: number | undefined): EndsApart | undefined {
  if (endSec === undefined || pictureEndSec === undefined) return undefined;
  const apartSec = pictureEndSec - endSec;
  if (Math.abs(apartSec) <= ENDS_APART_SEC) return undefined;
  const note = `Its sound ends ${Math.abs(apartSec).toFixed(2)} s ${apartSec > 0 ? 'before' : 'after'} its picture.`;
  return { pictureEndSec: pictureEndSec / (1 + (pace?.ppm ?? 0) * 1e-6), note };
}

/** The notes of a clip as they hold for a part of it, told by where the part lies in the clip, s. */
export function notesOfPart(
  notes: readonly string[],
  apart: EndsApart | undefined,
  fromSec: number,
  toSec: number,
): string[] {
  return notes.flatMap((note) => {
    if (note !== apart?.note) return [note];
    const { pictureEndSec } = apart;
    // The part ends where its sound does: no picture goes on after it, but it may lack one towards its end.
    if (toSec - pictureEndSec <= ENDS_APART_SEC) return [];
    return pictureEndSec > fromSec
      ? [`Its sound ends ${(toSec - pictureEndSec).toFixed(2)} s after its picture.`]
      : [`It has no picture: that of its clip ends ${(fromSec - pictureEndSec).toFixed(2)} s before it begins.`];
  });
}

/** What the user should know of where a stream and its picture disagree, or may. */
export function clockNotes(
  { pace }: AudioFacts,
  track: Mp4Track | undefined,
  hasPicture: boolean,
  apart: EndsApart | undefined,
): string[] {
  const notes: string[] = [];
  if (pace !== undefined && hasPicture) {
    const { ppm, offSec } = pace;
    notes.push(
      `The time stamps of its sound run ${Math.abs(ppm).toFixed(0)} ppm ${ppm > 0 ? 'fast' : 'slow'} against its samples, ${Math.abs(1000 * offSec).toFixed(0)} ms by its end; its picture is shown at the pace of the samples, so that both stay together.`,
    );
  }
  if (apart !== undefined) notes.push(apart.note);
  if (track !== undefined && !isInOrder(track.shown)) {
    notes.push('Its edit list shows some of its sound twice or in another order; joints may lie up to 30 ms off.');
  }
  return notes;
}
