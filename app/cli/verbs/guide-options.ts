import { type Command, InvalidArgumentError, Option } from 'commander';
import { type Temperament, temperaments } from '../../../core/guide/temperament.ts';
import type { AskedHold, Ritardando } from '../../../core/guide/tempo-marks.ts';
import type { GuideFormat } from '../../desk/guide-request.ts';
import { numberWithin } from '../options.ts';

/** What `partsong guide` is given. */
export interface GuideOptions {
  out: string;
  title?: string;
  tempo?: number;
  metre: { beats: number; unit: number };
  bars: number;
  countIn: number;
  silence: number;
  cue: 'start' | 'both';
  tuning: number;
  click: 'none' | 'bars' | 'beats' | 'units';
  rest: { fromBar: number; toBar: number }[];
  clickLevel: number;
  referenceHz: number;
  temperament: Temperament;
  tonic: number;
  drone: boolean;
  for?: string;
  own: number;
  ritardando: Ritardando[];
  hold: AskedHold[];
  with: { voice: string; clip: string }[];
  session?: string;
  format: GuideFormat[];
  json?: boolean;
}

const FORMATS: readonly GuideFormat[] = ['wav', 'flac', 'm4a', 'mp3', 'mp4'];
const NOTE_NAMES = ['c', 'c#', 'd', 'eb', 'e', 'f', 'f#', 'g', 'ab', 'a', 'bb', 'b'] as const;

/** What is played: the title, and tempo and metre where the score does not say them or is to be changed. */
export function addPiece(command: Command): Command {
  return command
    .option('--title <text>', 'name of the piece; absent: as the score says')
    .option(
      '--tempo <quarters>',
      'quarter notes per minute at the beginning (absent: the score, else 90)',
      numberWithin('The tempo', 5, 1000),
    )
    .option(
      '--ritardando <from-to:tempo>',
      'bars over which the tempo changes evenly, for example 46-48:60; after them the former tempo comes back (may be given again)',
      ritardandoOf,
      [],
    )
    .option(
      '--hold <bar[:beat]:sec>',
      'a fermata: wait so many seconds at the end of a beat, or of the bar (may be given again)',
      holdOf,
      [],
    )
    .option('--metre <beats/unit>', 'without a score: 4/4, 3/4, 6/8 and so on', metreOf, { beats: 4, unit: 4 })
    .option('--bars <n>', 'without a score: how many bars', wholeWithin('The bars', 1, 2000), 32);
}

/** What is heard before the music, and the click. */
export function addCues(command: Command): Command {
  return command
    .option('--count-in <bars>', 'bars of click before the music', wholeWithin('The count-in', 0, 8), 2)
    .option(
      '--silence <sec>',
      'length of the silence from which the noise is learnt',
      numberWithin('The silence', 0.5, 60),
      5,
    )
    .addOption(
      new Option('--cue <where>', 'clap at the start, or at the start and the end')
        .choices(['start', 'both'])
        .default('start'),
    )
    .option('--tuning <sec>', 'length of the tone to tune to; 0 for none', numberWithin('The tuning tone', 0, 60), 4)
    .addOption(
      new Option('--click <fineness>', 'how fine the click is')
        .choices(['none', 'bars', 'beats', 'units'])
        .default('beats'),
    )
    .option('--rest <bars>', 'bars in which the click rests, for example 9-16 (may be given again)', restOf, [])
    .option(
      '--click-level <dB>',
      'click louder or softer than usual',
      numberWithin('The level of the click', -40, 12),
      0,
    );
}

/** What the pitches are tuned to. */
export function addPitch(command: Command): Command {
  return command
    .option('--reference-hz <Hz>', 'A4, 415 to 466', numberWithin('The reference', 415, 466), 440)
    .addOption(
      new Option('--temperament <name>', 'tuning of the twelve notes').choices([...temperaments]).default('equal'),
    )
    .option('--tonic <note>', 'key note of the temperament and of the drone: c, c#, d, eb ...', tonicOf, 0)
    .option('--drone', 'a soft held tonic under the music', false);
}

/** Whose guide it is, and which takes sound in it. */
export function addVoices(command: Command): Command {
  return command
    .option('--for <voice>', 'a guide for one voice (part of its name) or for all')
    .option('--own <dB>', 'the own voice in its guide against the others; "out" leaves it out', ownOf, 6)
    .option(
      '--with <voice=clip>',
      'a take recorded already sounds in place of the mock-up of its voice (may be given again)',
      withOf,
      [],
    )
    .option('--session <dir>', 'the takes of a session sound in place of the mock-up; without a score its own serves');
}

/** What is written. */
export function addFormats(command: Command): Command {
  return command.option(
    '--format <list>',
    'wav, flac, m4a, mp3, mp4 (a video with bars, beats and countdowns), with commas between',
    formatsOf,
    ['wav', 'm4a'] as GuideFormat[],
  );
}

function wholeWithin(what: string, minimum: number, maximum: number): (text: string) => number {
  const number = numberWithin(what, minimum, maximum);
  return (text) => {
    const value = number(text);
    if (!Number.isInteger(value)) throw new InvalidArgumentError(`${what} is a whole number.`);
    return value;
  };
}

function metreOf(text: string): { beats: number; unit: number } {
  const match = /^\s*(\d{1,2})\s*\/\s*(\d{1,2})\s*$/.exec(text);
  const beats = Number(match?.[1]);
  const unit = Number(match?.[2]);
  if (!(beats >= 1 && beats <= 64) || ![1, 2, 4, 8, 16, 32].includes(unit)) {
    throw new InvalidArgumentError('A metre is beats/unit, for example 4/4, 3/4, 6/8 or 7/8.');
  }
  return { beats, unit };
}

function restOf(text: string, before: GuideOptions['rest']): GuideOptions['rest'] {
  const match = /^\s*(\d+)(?:\s*[-–]\s*(\d+))?\s*$/.exec(text);
  const fromBar = Number(match?.[1]);
  const toBar = Number(match?.[2] ?? match?.[1]);
  if (!(fromBar >= 0 && toBar >= fromBar)) throw new InvalidArgumentError('Bars are given as 9 or 9-16.');
  return [...before, { fromBar, toBar }];
}

function ritardandoOf(text: string, before: Ritardando[]): Ritardando[] {
  const match = /^\s*(\d+)(?:\s*[-–]\s*(\d+))?\s*:\s*([\d.]+)\s*$/.exec(text);
  const fromBar = Number(match?.[1]);
  const toBar = Number(match?.[2] ?? match?.[1]);
  const quartersPerMinute = Number(match?.[3]);
  if (!(toBar >= fromBar && quartersPerMinute >= 5 && quartersPerMinute <= 1000)) {
    throw new InvalidArgumentError(
      'A ritardando is given as FROM-TO:TEMPO, bars and quarters a minute, for example 46-48:60.',
    );
  }
  return [...before, { fromBar, toBar, quartersPerMinute }];
}

function holdOf(text: string, before: AskedHold[]): AskedHold[] {
  const match = /^\s*(\d+)(?::(\d+))?:([\d.]+)\s*$/.exec(text);
  const sec = Number(match?.[3]);
  if (match === null || !(sec > 0 && sec <= 60)) {
    throw new InvalidArgumentError('A fermata is given as BAR:SEC or BAR:BEAT:SEC, for example 16:2 or 16:3:1.5.');
  }
  return [...before, { bar: Number(match[1]), beat: match[2] === undefined ? null : Number(match[2]), sec }];
}

function withOf(text: string, before: { voice: string; clip: string }[]): { voice: string; clip: string }[] {
  const at = text.indexOf('=');
  if (at < 1 || at === text.length - 1) {
    throw new InvalidArgumentError('A take is given as VOICE=CLIP, for example bass=bass.mov.');
  }
  return [...before, { voice: text.slice(0, at).trim(), clip: text.slice(at + 1) }];
}

function tonicOf(text: string): number {
  const flats: Record<string, string> = { 'd#': 'eb', 'g#': 'ab', 'a#': 'bb', db: 'c#', gb: 'f#' };
  const name = text.trim().toLowerCase();
  const tonic = NOTE_NAMES.indexOf((flats[name] ?? name) as (typeof NOTE_NAMES)[number]);
  if (tonic < 0) throw new InvalidArgumentError(`The tonic is one of ${NOTE_NAMES.join(', ')}.`);
  return tonic;
}

function ownOf(text: string): number {
  return text.trim().toLowerCase() === 'out' ? Number.NEGATIVE_INFINITY : numberWithin('The own voice', -40, 12)(text);
}

function formatsOf(text: string): GuideFormat[] {
  const wanted = text.split(',').map((one) => one.trim().toLowerCase());
  const found = FORMATS.filter((format) => wanted.includes(format));
  if (found.length === 0 || found.length < new Set(wanted).size) {
    throw new InvalidArgumentError(`Formats are ${FORMATS.join(', ')}, with commas between.`);
  }
  return found;
}
