import { throwIfCancelled } from '../../core/signal/fault.ts';
import { readBanner } from './banner.ts';
import { argumentsFor, type Begun, begin, type DecodeOptions, type Decoding, decode } from './decode.ts';
import type { Mp4Facts } from './mp4-facts.ts';
import { type ClipFacts, type Look, lookInside, MOST_LINES, probe, startsOf } from './probe.ts';
import type { ToldSound } from './sample-description.ts';

/** A clip that was looked into and is ready to be decoded. */
export interface OpenedClip {
  readonly facts: ClipFacts;
  readonly decoding: Decoding;
  /** To be called at the end, however it came. */
  close(): Promise<void>;
}

/**
 * `probe` and `decode` as one: what comes of them is the same. Where the boxes of a clip tell of one sound and nothing else, as sound recorders
 * make them, FFmpeg is started once for both, since starting it takes a quarter of decoding five minutes; it is started anew where
 * it then tells otherwise. Clips with a picture are looked into first: FFmpeg would read all of the picture beside the sound.
 */
export async function openClip(file: string, options: DecodeOptions = {}): Promise<OpenedClip> {
  let early: (Begun & { readonly told: ToldSound }) | undefined;
  const stop = async (): Promise<void> => {
    await early?.run.stop();
    early?.output?.close();
  };
  try {
    const facts = await probe(file, options.signal, async (_, boxes, signal) => {
      const told = boxes === undefined ? undefined : loneSound(boxes);
      const begun = told === undefined ? undefined : await beginToLook(file, told, { ...options, signal });
      if (begun === undefined) return lookInside(file, boxes, signal);
      early = { ...begun, told: told! };
      return begun.look;
    });
    const isRight = early !== undefined && isAsTold(file, facts, early.told);
    if (!isRight) await stop();
    return { facts, decoding: decode(file, facts, options, isRight ? early : undefined), close: stop };
  } catch (error) {
    await stop();
    throw error;
  }
}

/** The one sound of a file that holds nothing else, shown in one piece; undefined where there is more to it. */
function loneSound({ tracks, hasMovie, cutOff }: Mp4Facts): ToldSound | undefined {
  const [track] = tracks;
  if (track === undefined || tracks.length > 1 || !hasMovie || cutOff) return undefined;
  if (track.kind !== 'audio' || track.shown.length > 1 || track.endSec === undefined) return undefined;
  const { told } = track;
  return told.rateHz > 0 && told.channels > 0 ? told : undefined;
}

function isAsTold(file: string, { chosenAudio }: ClipFacts, told: ToldSound): boolean {
  return argumentsFor(file, chosenAudio, 1).join('\n') === argumentsFor(file, { index: 0, ...told }, 1).join('\n');
}

/** The first packet of the sound as it is coded: its time. */
const FIRST_PACKET = [
  ...['-map', '0:a?', '-c', 'copy', '-frames:a', '1', '-flush_packets', '1', '-f', 'framecrc', 'pipe:3'],
];

/**
 * Begins to decode, and gives what FFmpeg says on the way of the clip; undefined where it cannot, which looking into it alone puts into words.
 */
async function beginToLook(
  file: string,
  told: ToldSound,
  options: DecodeOptions,
): Promise<(Begun & { readonly look: Look }) | undefined> {
  const lines: string[] = [];
  let packets = '';
  let ends = 0;
  let isThere: (value: boolean) => void = () => undefined;
  const ready = new Promise<boolean>((resolve) => {
    isThere = resolve;
  });
  const hear = (): void => {
    // All that is said of the input comes before what is made of it.
    if (/^0,/m.test(packets) && lines.some((line) => /^Stream mapping:/.test(line))) isThere(true);
  };
  const end = (): void => {
    ends++;
    if (ends === 2) isThere(false);
  };
  const begun = await begin(file, { index: 0, ...told }, options, {
    more: FIRST_PACKET,
    onLine: (line) => {
      if (lines.length >= MOST_LINES) return;
      lines.push(line);
      hear();
    },
    onLastLine: end,
  });
  const { stdout, aside } = begun.run;
  // Who listens is given all: samples that nobody waits for would be thrown away when a short clip has been decoded.
  stdout.on('readable', () => undefined);
  aside!.setEncoding('utf8');
  aside!.on('data', (text: string) => {
    packets += text;
    hear();
  });
  aside!.on('error', () => undefined);
  aside!.on('close', end);
  const banner = (await ready) ? readBanner(lines) : undefined;
  if (banner === undefined) {
    await begun.run.stop();
    begun.output?.close();
    throwIfCancelled(options.signal);
    return undefined;
  }
  return { ...begun, look: { banner, starts: startsOf(packets, banner) } };
}
