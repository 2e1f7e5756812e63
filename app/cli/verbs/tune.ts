import { type Command, InvalidArgumentError, Option } from 'commander';
import { type Temperament, temperaments } from '../../../core/guide/temperament.ts';
import { PartsongError } from '../../../core/signal/fault.ts';
import type { TuneReport } from '../../desk/tune-clips.ts';
import { numberWithin } from '../options.ts';
import { runVerb, type VerbContext } from '../run-verb.ts';

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
    .argument('<session|clip...>', 'the takes, one voice each; or the folder of a session, as it stands')
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
  partsong tune canon                     the session in canon/, with what is mended and joined in it

A cent is a hundredth of a half tone. Partsong speaks of notes from 15 cents on; smaller differences are in the JSON, with how sure they are.
Chords count as in tune anywhere between the size of equal temperament and the pure one.`,
    )
    .action((paths: string[], options: TuneOptions) =>
      runVerb(options, async (context) => {
        const { sessionAmong } = await import('../../desk/session/session-work.ts');
        const { tuneLines } = await import('../tune-lines.ts');
        const { session, clips } = await sessionAmong(paths);
        const report = await (session === undefined
          ? ofClips(clips, options, context)
          : ofSession(session, clips, options, context));
        context.progress.end();
        for (const line of tuneLines(report)) context.say(line);
        return report;
      }),
    );
}

function wishOf({ score, referenceHz, temperament, tonic }: TuneOptions, { signal, progress }: VerbContext) {
  return { score, referenceHz, temperament, tonic, signal, onStep: (step: string) => progress.begin(step) };
}

async function ofClips(clips: readonly string[], options: TuneOptions, context: VerbContext): Promise<TuneReport> {
  const { tuneClips } = await import('../../desk/tune-clips.ts');
  return tuneClips({ ...wishOf(options, context), clips, guide: options.guide });
}

async function ofSession(
  session: string,
  clips: readonly string[],
  options: TuneOptions,
  context: VerbContext,
): Promise<TuneReport> {
  if (clips.length > 0 || options.guide !== undefined) {
    throw new PartsongError(
      'bad-option',
      'A session is heard as it stands; clips and --guide are no part of that.',
      'Add clips with "partsong takes SESSION CLIP...", and a guide with its --guide.',
    );
  }
  const { tuneSession } = await import('../../desk/session/tune-session.ts');
  return tuneSession({ ...wishOf(options, context), session });
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
