import { throwIfCancelled } from '../../core/signal/fault.ts';
import { type AudioFacts, audioFacts, clockNotes, type EndsApart, endsApart, withGapless } from './audio-facts.ts';
import { type Banner, type BannerColour, type BannerStream, readBanner } from './banner.ts';
import { noDecoderFault, noSoundFault, sizeOfClip, unreadableFault, withoutMovieFault } from './clip-faults.ts';
import { primingNote, primingOf, type Zero, zeroOf } from './clip-zero.ts';
import { findFfmpeg } from './ffmpeg.ts';
import { type Mp4Facts, readMp4Facts } from './mp4-facts.ts';
import { lastGranule } from './ogg-end.ts';
import { fileArgument, runFfmpeg, wasEnded } from './run.ts';
import { probeWave } from './wave-clip.ts';

/** The moving picture of a clip. */
export interface VideoFacts {
  readonly index: number;
  readonly codec: string;
  /** Coded size before turning, px. */
  readonly width: number;
  readonly height: number;
  /** How far the picture is to be turned for showing, degrees counter-clockwise (0, 90, 180, -90 or -180). */
  readonly rotationDeg: number;
  /** Mean pictures per second; 0 where unknown. */
  readonly rate: number;
  /** The lowest rate at whose times every picture can lie; above `rate` where pictures lie unevenly. 0 where unknown. */
  readonly nominalRate: number;
  /** Width of a dot over its height. */
  readonly dotAspect: number;
  readonly colour: BannerColour;
  readonly isInterlaced: boolean;
  /** The file says that its pictures are whole; neither said: only decoding tells. */
  readonly isProgressive: boolean;
  /** Clip time of the first picture, s. */
  readonly startSec: number;
  /** Clip time at which the last picture ends, s; absent where unknown. */
  readonly endSec: number | undefined;
}

/** What is known of a clip before it is decoded. */
export interface ClipFacts {
  readonly file: string;
  /** FFmpeg's name of the container, or `wave` where the file is read without it. */
  readonly container: string;
  /** Clip time at which the sound ends, s; to 0.01 s where the container tells no better, 0 where it tells nothing. */
  readonly lengthSec: number;
  /** The container itself tells how long the sound is, so that a shorter one is cut off. */
  readonly lengthTold: boolean;
  readonly sizeBytes: number;
  readonly audio: readonly AudioFacts[];
  /** The stream of `audio` that is decoded. */
  readonly chosenAudio: AudioFacts;
  readonly video: VideoFacts | undefined;
  /** Container time of clip time zero for the picture, s: 0 but where the container's own time line begins elsewhere. */
  readonly zeroSec: number;
  /** The file ends before its container says it should; decoding tells how much of it could be read. */
  readonly truncated: boolean;
  /** Plain sentences on whatever was chosen, taken off or doubtful. */
  readonly notes: readonly string[];
  /** What one of the notes tells of how sound and picture end; absent where they end together. */
  readonly endsApart?: EndsApart;
}

/**
 * Looks into a clip without decoding it. Throws PartsongError 'file-missing' | 'file-empty' | 'file-unreadable' |
 * 'not-media' | 'truncated' (nothing can be read) | 'no-sound' | 'ffmpeg-missing' | 'ffmpeg-failed'.
 */
export async function probe(file: string, signal?: AbortSignal, lookInto: LookInto = lookInside): Promise<ClipFacts> {
  throwIfCancelled(signal);
  const sizeBytes = await sizeOfClip(file);
  const wave = await probeWave(file, sizeBytes);
  if (wave !== undefined) return wave;
  const boxes = await readMp4Facts(file);
  if (boxes !== undefined && !boxes.hasMovie && boxes.cutOff) throw withoutMovieFault(file);
  const look = await lookInto(file, boxes, signal);
  const facts = factsOf(file, sizeBytes, look.banner, look.starts, boxes);
  return facts.container === 'ogg' && facts.chosenAudio.codec === 'vorbis' ? withOggEnd(facts) : facts;
}

/** Vorbis in Ogg ends inside its last block. The end is only believed where FFmpeg's rough length agrees. */
async function withOggEnd(facts: ClipFacts): Promise<ClipFacts> {
  const endSec = ((await lastGranule(facts.file)) ?? 0) / facts.chosenAudio.rateHz;
  if (facts.audio.length > 1 || Math.abs(endSec - facts.lengthSec) > 0.1) return facts;
  const chosenAudio = { ...facts.chosenAudio, endSec };
  return { ...facts, lengthSec: endSec, audio: [chosenAudio], chosenAudio };
}

/** Facts of several clips, in their order, a few at a time. The first fault ends it. */
export async function readAllFacts(files: readonly string[], signal?: AbortSignal): Promise<ClipFacts[]> {
  const facts: ClipFacts[] = new Array(files.length);
  let next = 0;
  const work = async (): Promise<void> => {
    for (let n = next++; n < files.length; n = next++) facts[n] = await probe(files[n]!, signal);
  };
  await Promise.all([work(), work()]);
  return facts;
}

/** What FFmpeg says of a clip. */
export interface Look {
  readonly banner: Banner;
  /** Container time of the first packet, s, by FFmpeg's stream number. */
  readonly starts: ReadonlyMap<number, number>;
}

export type LookInto = (file: string, boxes: Mp4Facts | undefined, signal: AbortSignal | undefined) => Promise<Look>;

/** Most lines of messages that are looked through. */
export const MOST_LINES = 2000;

export async function lookInside(
  file: string,
  boxes: Mp4Facts | undefined,
  signal: AbortSignal | undefined,
): Promise<Look> {
  const ffmpeg = await findFfmpeg();
  const input = ['-nostdin', '-nostats', '-protocol_whitelist', 'file,pipe', '-copyts', '-i', fileArgument(file)];
  const firstPackets = ['-map', '0:a?', '-map', '0:V?', '-c', 'copy', '-frames:a', '1', '-frames:v', '1'];
  const lines: string[] = [];
  const end = await runFfmpeg(ffmpeg, [...input, ...firstPackets, '-f', 'framecrc', 'pipe:1'], {
    signal,
    onLine: (line) => {
      if (lines.length < MOST_LINES) lines.push(line);
      return false;
    },
  });
  const banner = readBanner(lines);
  if (wasEnded(end)) throw await unreadableFault(file, end, 'looking into');
  if (banner === undefined) {
    if (boxes !== undefined && !boxes.hasMovie) throw withoutMovieFault(file, end);
    throw await unreadableFault(file, end, 'looking into');
  }
  return { banner, starts: startsOf(end.output, banner) };
}

/** Output streams are numbered in the order they were mapped: all sound, then all pictures but covers. */
export function startsOf(crcText: string, banner: Banner): Map<number, number> {
  const mapped = [
    ...banner.streams.filter((stream) => stream.kind === 'audio'),
    ...banner.streams.filter((stream) => stream.kind === 'video' && !stream.isCover),
  ];
  const bases = new Map<number, number>();
  for (const [, n, over, under] of crcText.matchAll(/^#tb (\d+): (\d+)\/(\d+)/gm)) {
    bases.set(Number(n), Number(over) / Number(under));
  }
  const starts = new Map<number, number>();
  for (const [, n, pts] of crcText.matchAll(/^(\d+),\s*-?\d+,\s*(-?\d+),/gm)) {
    const stream = mapped[Number(n)];
    const base = bases.get(Number(n));
    if (stream !== undefined && base !== undefined && !starts.has(stream.index)) {
      starts.set(stream.index, Number(pts) * base);
    }
  }
  return starts;
}

function factsOf(
  file: string,
  sizeBytes: number,
  banner: Banner,
  starts: ReadonlyMap<number, number>,
  boxes: Mp4Facts | undefined,
): ClipFacts {
  const sounds = banner.streams.filter((stream) => stream.kind === 'audio');
  const pictures = banner.streams.filter((stream) => stream.kind === 'video' && !stream.isCover);
  if (sounds.length === 0) throw noSoundFault(file, pictures.length > 0);
  const notes: string[] = [];
  const chosen = choose(file, sounds, notes);
  const picture = pictures.find((stream) => stream.isDefault) ?? pictures[0];
  const priming = primingOf(banner.format, chosen, starts.get(chosen.index));
  const zero = zeroOf(
    banner.format,
    starts.get(chosen.index),
    priming / chosen.rateHz,
    picture && starts.get(picture.index),
  );
  const audioTracks = boxes?.tracks.filter((track) => track.kind === 'audio') ?? [];
  const audio = sounds.map((stream, n): AudioFacts => {
    const track = audioTracks.length === sounds.length ? audioTracks[n] : undefined;
    const primingFrames = stream === chosen ? priming : primingOf(banner.format, stream, starts.get(stream.index));
    const facts = audioFacts(stream, track, starts.get(stream.index), zero, primingFrames);
    const isTold = track !== undefined && !track.hasEdits && picture === undefined && sounds.length === 1;
    return isTold ? withGapless(facts, banner.gapless) : facts;
  });
  const chosenAudio = audio.find((stream) => stream.index === chosen.index)!;
  if (priming > 0) notes.push(primingNote(banner.format, priming));
  if (chosenAudio.startSec > 0.0005) {
    notes.push(`Its sound begins ${chosenAudio.startSec.toFixed(3)} s into the clip; silence is put before it.`);
  }
  const track = audioTracks.length === sounds.length ? audioTracks[sounds.indexOf(chosen)] : undefined;
  const truncated = boxes?.cutOff === true;
  const lengthSec = chosenAudio.endSec ?? banner.lengthSec ?? 0;
  const lengthTold = chosenAudio.endSec !== undefined || (picture === undefined && tellsLength(banner));
  const video = picture && videoFacts(picture, boxes, starts.get(picture.index), zero);
  const apart = endsApart(chosenAudio, video?.endSec);
  notes.push(...clockNotes(chosenAudio, track, video !== undefined, apart));
  return {
    file,
    container: banner.format,
    lengthSec,
    lengthTold,
    sizeBytes,
    audio,
    chosenAudio,
    video,
    zeroSec: zero.pictureSec,
    truncated,
    notes,
    ...(apart === undefined ? {} : { endsApart: apart }),
  };
}

function tellsLength(banner: Banner): boolean {
  return !banner.lengthIsGuess && /^(flac|mp3|caf|w64|aiff|matroska)/.test(banner.format);
}

/** The stream to use: one that can be decoded; then the one the file marks as default; then most channels; then first. */
function choose(file: string, sounds: readonly BannerStream[], notes: string[]): BannerStream {
  const readable = sounds.filter(
    (stream) => stream.codec !== 'none' && stream.codec !== 'unknown' && stream.rateHz > 0 && stream.channels > 0,
  );
  if (readable.length === 0) throw noDecoderFault(file, sounds.map((stream) => stream.codec).join(', '));
  const defaults = readable.filter((stream) => stream.isDefault);
  const pool = defaults.length > 0 ? defaults : readable;
  const most = Math.max(...pool.map((stream) => stream.channels));
  const chosen = pool.find((stream) => stream.channels === most)!;
  if (sounds.length > 1) {
    const place = sounds.indexOf(chosen) + 1;
    const why = defaults.length === 1 ? 'it is marked as the main one' : 'it has the most channels, or comes first';
    notes.push(
      `The clip has ${sounds.length} sound streams; number ${place} (${chosen.codec}, ${chosen.layout}) is used: ${why}.`,
    );
  }
  return chosen;
}

function videoFacts(
  stream: BannerStream,
  boxes: Mp4Facts | undefined,
  startSec: number | undefined,
  zero: Zero,
): VideoFacts {
  const track = boxes?.tracks.find((candidate) => candidate.kind === 'video');
  const { index, codec, width, height, rotationDeg, pictureRate, nominalRate, dotAspect, colour, isInterlaced } =
    stream;
  return {
    index,
    codec,
    width,
    height,
    rotationDeg: Math.round(rotationDeg),
    rate: pictureRate,
    nominalRate,
    dotAspect,
    colour,
    isInterlaced,
    isProgressive: stream.isProgressive,
    startSec: track?.startSec ?? Math.max(0, (startSec ?? 0) - zero.pictureSec),
    endSec: track?.endSec,
  };
}
