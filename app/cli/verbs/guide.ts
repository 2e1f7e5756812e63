import type { Command } from 'commander';
import type { MadeGuide } from '../../desk/make-guide.ts';
import { time } from '../../desk/report/markup.ts';
import { SAFE_LISTENING } from '../../desk/report/recording-plan.ts';
import { runVerb, type VerbContext } from '../run-verb.ts';
import { addCues, addFormats, addPiece, addPitch, addVoices, type GuideOptions } from './guide-options.ts';

/** The octave of the drone: its tonic between C3 and B3. */
const DRONE_OCTAVE_KEY = 48;

const AFTER_HELP = `
Examples:
  partsong guide --out canon --tempo 72 --metre 3/4 --bars 48
  partsong guide canon.musicxml --out canon --for all --cue both
  partsong guide canon.mid --out canon --temperament meanTone --tonic d --reference-hz 415 --own out --for tenor
  partsong guide canon.mid --out canon --for tenor --with "bass=takes/bass 2.mov"
  partsong guide --session canon-session --out canon --for tenor

Makes in the folder the guide in each format, a .guide.json beside it (it tells later steps where silence, clap and bars lie)
and recording-plan.html to print. Play only music you have the rights to record.

${SAFE_LISTENING}`;

/** `partsong guide`: what the player hears while recording, and the plan to print. */
export function addGuide(program: Command): void {
  const command = program
    .command('guide')
    .description('make the guide you hear in your headphones while recording, and a plan to print')
    .argument('[score]', 'the piece as MIDI or MusicXML; without it the guide is a click')
    .requiredOption('--out <dir>', 'folder for the guide and the plan');
  addPiece(command);
  addCues(command);
  addPitch(command);
  addVoices(command);
  addFormats(command)
    .option('--json', 'print what was made as JSON')
    .addHelpText('after', AFTER_HELP)
    .action((score: string | undefined, options: GuideOptions) =>
      runVerb(options, async (context) => {
        const made = await guideFrom(score, options, context);
        context.progress.end();
        sayMade(made, context);
        return made;
      }),
    );
}

async function guideFrom(score: string | undefined, options: GuideOptions, context: VerbContext): Promise<MadeGuide> {
  const { makeGuide } = await import('../../desk/make-guide.ts');
  return makeGuide({
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
}

function sayMade(made: MadeGuide, context: VerbContext): void {
  context.say(`${made.title}: ${made.bars} bars, ${made.voices.length === 0 ? 'click only' : made.voices.join(', ')}`);
  if (made.played.length > 0) context.say(`  recorded already: ${made.played.join(', ')}`);
  for (const one of made.files) context.say(`  ${one.file} (${time(one.lengthSec)})`);
  context.say(`  ${made.plan} to print`);
  context.say(
    `Silence from ${time(made.silence.fromSec)} to ${time(made.silence.toSec)}, clap at ${made.claps.map((clap) => time(clap.atSec)).join(' and ')}, music from ${time(made.musicFromSec)} to ${time(made.musicToSec)}.`,
  );
  for (const note of made.notes) context.say(`Note: ${note}`);
  context.say(SAFE_LISTENING);
}
