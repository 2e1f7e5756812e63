import { type Command, InvalidArgumentError, Option } from 'commander';
import { type Temperament, temperaments } from '../../../core/guide/temperament.ts';
import type { AskedHold, Ritardando } from '../../../core/guide/tempo-marks.ts';
import type { GuideFormat } from '../../desk/make-guide.ts';
import { time } from '../../desk/report/markup.ts';
import { SAFE_LISTENING } from '../../desk/report/recording-plan.ts';
import { numberWithin } from '../options.ts';
import { runVerb } from '../run-verb.ts';

interface GuideOptions {
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
/** The octave of the drone: its tonic between C3 and B3. */
const DRONE_OCTAVE_KEY = 48;

/** `partsong guide`: what the player hears while recording, and the plan to print. */
export function addGuide(program: Command): void {
  program
    .command('guide')
    .description('make the guide you hear in your headphones while recording, and a plan to print')
    .argument('[score]', 'the piece as MIDI or MusicXML; without it the guide is a click')
    .requiredOption('--out <dir>', 'folder for the guide and the plan')
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
    .option('--bars <n>', 'without a score: how many bars', wholeWithin('The bars', 1, 2000), 32)
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
    )
    .option('--reference-hz <Hz>', 'A4, 415 to 466', numberWithin('The reference', 415, 466), 440)
    .addOption(
      new Option('--temperament <name>', 'tuning of the twelve notes').choices([...temperaments]).default('equal'),
    )
    .option('--tonic <note>', 'key note of the temperament and of the drone: c, c#, d, eb ...', tonicOf, 0)
    .option('--drone', 'a soft held tonic under the music', false)
    .option('--for <voice>', 'a guide for one voice (part of its name) or for all')
    .option('--own <dB>', 'the own voice in its guide against the others; "out" leaves it out', ownOf, 6)
    .option(
      '--with <voice=clip>',
      'a take recorded already sounds in place of the mock-up of its voice (may be given again)',
      withOf,
      [],
    )
    .option('--session <dir>', 'the takes of a session sound in place of the mock-up; without a score its own serves')
    .option(
      '--format <list>',
      'wav, flac, m4a, mp3, mp4 (a video with bars, beats and countdowns), with commas between',
      formatsOf,
      ['wav', 'm4a'] as GuideFormat[],
    )
    .option('--json', 'print what was made as JSON')
    .addHelpText(
      'after',
      `
Examples:
  partsong guide --out canon --tempo 72 --metre 3/4 --bars 48
  partsong guide canon.musicxml --out canon --for all --cue both
  partsong guide canon.mid --out canon --temperament meanTone --tonic d --reference-hz 415 --own out --for tenor
  partsong guide canon.mid --out canon --for tenor --with "bass=takes/bass 2.mov"
  partsong guide --session canon-session --out canon --for tenor

Makes in the folder the guide in each format, a .guide.json beside it (it tells later steps where silence, clap and bars lie)
and recording-plan.html to print. Play only music you have the rights to record.

${SAFE_LISTENING}`,
    )
    .action((score: string | undefined, options: GuideOptions) =>
      runVerb(options, async (context) => {
        const { makeGuide } = await import('../../desk/make-guide.ts');
        const made = await makeGuide({
          score,
          outFolder: options.out,
          title: options.title,
          quartersPerMinute: options.tempo,
          ritardandi: options.ritardando,
          holds: options.hold,
          metre: options.metre,
          bars: options.bars,
          settings: {
            silenceSec: options.silence,
            cue: options.cue,
            countInBars: options.countIn,
            referenceHz: options.referenceHz,
            tuningSec: options.tuning,
            click: options.click,
            restingBars: options.rest,
          },
          temperament: options.temperament,
          tonic: options.tonic,
          clickDb: options.clickLevel,
          droneKey: options.drone ? DRONE_OCTAVE_KEY + options.tonic : null,
          forVoice: options.for,
          ownDb: options.own,
          with: options.with,
          session: options.session,
          formats: options.format,
          signal: context.signal,
          onStep: (step) => context.progress.begin(step),
        });
        context.progress.end();
        context.say(
          `${made.title}: ${made.bars} bars, ${made.voices.length === 0 ? 'click only' : made.voices.join(', ')}`,
        );
        if (made.played.length > 0) context.say(`  recorded already: ${made.played.join(', ')}`);
        for (const one of made.files) context.say(`  ${one.file} (${time(one.lengthSec)})`);
        context.say(`  ${made.plan} to print`);
        context.say(
          `Silence from ${time(made.silence.fromSec)} to ${time(made.silence.toSec)}, clap at ${made.claps.map((clap) => time(clap.atSec)).join(' and ')}, music from ${time(made.musicFromSec)} to ${time(made.musicToSec)}.`,
        );
        for (const note of made.notes) context.say(`Note: ${note}`);
        context.say(SAFE_LISTENING);
        return made;
      }),
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
