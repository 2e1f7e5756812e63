import type { Command } from 'commander';
import { time } from '../../desk/report/markup.ts';
import type { SheetTake, TakesSheet } from '../../desk/takes-sheet.ts';
import { type AssignmentOptions, addAssignment, assignmentOf } from '../assignment-options.ts';
import { runVerb } from '../run-verb.ts';

interface TakesOptions extends AssignmentOptions {
  guide?: string;
  score?: string;
  quick?: boolean;
  json?: boolean;
}

/** `partsong takes`: which take of each voice is the best, and why. */
export function addTakes(program: Command): void {
  const command = program
    .command('takes')
    .description('compare the takes of each voice and propose the best, with reasons')
    .argument('[clip...]', 'the takes of all voices')
    .option('--guide <file>', 'what you heard in your headphones, to see how surely each take finds its place')
    .option('--score <file>', 'the piece as MIDI or MusicXML, to hold pitch against (absent: that of the guide)');
  addAssignment(command, 'name')
    .option('--quick', 'leave timing and pitch out, which take the longest')
    .option('--json', 'print the sheet as JSON')
    .addHelpText(
      'after',
      `
Examples:
  partsong takes clips/*.mov --guide guide.wav
  partsong takes "flute t1.m4a" "flute t2.m4a" "horn (1).m4a" "horn (2).m4a"
  partsong takes evening.mov --apart
  partsong takes IMG_01.mov IMG_02.mov IMG_03.mov IMG_04.mov --by order --each 2
  partsong takes --voice "Tenor=IMG_01.mov,IMG_04.mov" --voice "Bass=IMG_02.mov,IMG_03.mov"

Clips are takes of one voice when their names differ only in the count: "flute take 1", "flute_t2", "flute (3)".
Nothing is made or changed: name the takes you choose in "partsong mix", or let it take the proposed ones (--by name).
Scatter is how far notes lie from their own mean against the guide, or the other voices; spread is the same in pitch.`,
    )
    .action((clips: string[], options: TakesOptions) =>
      runVerb(options, async (context) => {
        const { takesSheet } = await import('../../desk/takes-sheet.ts');
        const sheet = await takesSheet({
          clips,
          ...(await assignmentOf(options)),
          guide: options.guide,
          score: options.score,
          played: options.quick !== true,
          signal: context.signal,
          onStep: (step) => context.progress.begin(step),
        });
        context.progress.end();
        for (const voice of sheet.voices) sayVoice(voice, context.say);
        return sheet;
      }),
    );
}

function sayVoice({ voice, takes, best }: TakesSheet['voices'][number], say: (line: string) => void): void {
  say(`${voice}:`);
  const called = (take: { readonly file: string; readonly name: string; readonly part?: unknown }): string =>
    takes.filter(({ file }) => file === take.file).length > 1 ? take.name : take.file;
  for (const take of takes) {
    say(
      `  ${best?.name === take.name && best.file === take.file ? '> ' : '  '}${called(take)}: ${figuresInWords(take)}`,
    );
    for (const flaw of take.flaws) say(`        ${flaw}`);
    for (const note of take.notes) say(`        ${note}`);
  }
  if (best !== null) say(`  Proposed: ${called(best)}. ${best.reason}`);
}

function figuresInWords(take: SheetTake): string {
  const level = (value: number | null, unit: string): string =>
    value === null ? 'not known' : `${value.toFixed(1).replace('-', '−')} ${unit}`;
  const words = [
    ...(take.part === null ? [] : [`from ${time(take.part.fromSec)} to ${time(take.part.toSec)} of ${take.file}`]),
    `${time(take.lengthSec)} long`,
    `music ${level(take.musicLufs, 'LUFS')}${take.musicSec === null ? '' : ` over ${time(take.musicSec)}`}`,
    `peak ${level(take.peakDbfs, 'dBFS')}`,
    `noise ${level(take.noiseDbfs, 'dBFS')}`,
    `clipped ${take.clippedSpots === 0 ? 'nowhere' : `in ${take.clippedSpots} ${take.clippedSpots === 1 ? 'spot' : 'spots'}`}`,
    `silence ${take.silenceSec === null ? 'none' : `${take.silenceSec.toFixed(1)} s`}`,
    `clap ${take.clapSec === null ? 'none' : `at ${time(take.clapSec)}`}`,
  ];
  const { placement, scatterMs, spreadCents } = take;
  if (placement !== null) {
    words.push(`placed within ${placement.exactness}, confidence ${Math.round(placement.confidence * 100)} %`);
  }
  if (scatterMs !== null) words.push(`scatter ${scatterMs.toFixed(0)} ms`);
  if (spreadCents !== null) words.push(`spread ${spreadCents.toFixed(0)} cents`);
  return words.join(', ');
}
