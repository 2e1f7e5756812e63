import { type Command, InvalidArgumentError, Option } from 'commander';
import { type Temperament, temperaments } from '../../../core/guide/temperament.ts';
import { numberWithin } from '../options.ts';
import { runVerb } from '../run-verb.ts';

interface TuneOptions {
  score?: string;
  guide?: string;
  referenceHz: number | null;
  temperament: Temperament;
  tonic: number;
  json?: boolean;
}

/** `partsong tune`: are the voices in tune and in time, and where not. */
export function addTune(program: Command): void {
  program
    .command('tune')
    .description('hear how the takes are in tune and in time: each voice, the worst chords, the pitch you play by')
    .argument('<clip...>', 'the takes, one voice each')
    .option('--score <file>', 'the piece as MIDI or MusicXML (absent: that of the guide, else the nearest keys)')
    .option('--guide <file>', 'what you heard in your headphones; one made by Partsong tells bars and beats')
    .option('--reference-hz <auto|hz>', 'A4 to hold notes against; auto is your own', referenceOf, null)
    .addOption(
      new Option('--temperament <name>', 'tuning to hold notes against').choices([...temperaments]).default('equal'),
    )
    .option('--tonic <note>', 'tonic of a tuning that is not equal: c, c#, d, eb and so on', tonicOf, 0)
    .option('--json', 'print everything that was measured as JSON')
    .addHelpText(
      'after',
      `
Examples:
  partsong tune clips/*.mov --guide canon-guide.wav
  partsong tune soprano.m4a alto.m4a --score canon.mid --reference-hz 440
  partsong tune flute.mov --json

A cent is a hundredth of a half tone. Partsong speaks of notes from 15 cents on; smaller differences are in the JSON, with how sure they are.
Chords count as in tune anywhere between the size of equal temperament and the pure one.`,
    )
    .action((clips: string[], options: TuneOptions) =>
      runVerb(options, async (context) => {
        const { tuneClips } = await import('../../desk/tune-clips.ts');
        const { tuneLines } = await import('../tune-lines.ts');
        const report = await tuneClips({
          clips,
          score: options.score,
          guide: options.guide,
          referenceHz: options.referenceHz,
          temperament: options.temperament,
          tonic: options.tonic,
          signal: context.signal,
          onStep: (step) => context.progress.begin(step),
        });
        context.progress.end();
        for (const line of tuneLines(report)) context.say(line);
        return report;
      }),
    );
}

function referenceOf(text: string): number | null {
  return text.trim().toLowerCase() === 'auto' ? null : numberWithin('The reference', 380, 500)(text);
}

const TONICS = ['c', 'c#', 'd', 'eb', 'e', 'f', 'f#', 'g', 'ab', 'a', 'bb', 'b'];
const ALSO: Readonly<Record<string, string>> = { 'd#': 'eb', 'g#': 'ab', 'a#': 'bb', db: 'c#', gb: 'f#' };

function tonicOf(text: string): number {
  const name = text.trim().toLowerCase();
  const tonic = TONICS.indexOf(ALSO[name] ?? name);
  if (tonic < 0) throw new InvalidArgumentError(`The tonic is one of ${TONICS.join(', ')}.`);
  return tonic;
}
