import type { Command } from 'commander';
import { time } from '../../desk/report/markup.ts';
import type { SheetTake } from '../../desk/takes-sheet.ts';
import { runVerb } from '../run-verb.ts';

/** `partsong takes`: which take of each voice is the best, and why. */
export function addTakes(program: Command): void {
  program
    .command('takes')
    .description('compare the takes of each voice and propose the best, with reasons')
    .argument('<clip...>', 'the takes of all voices')
    .option('--guide <file>', 'what you heard in your headphones, to see how surely each take finds its place')
    .option('--json', 'print the sheet as JSON')
    .addHelpText(
      'after',
      `
Examples:
  partsong takes clips/*.mov --guide guide.wav
  partsong takes "flute t1.m4a" "flute t2.m4a" "horn (1).m4a" "horn (2).m4a"

Clips are takes of one voice when their names differ only in the count: "flute take 1", "flute_t2", "flute (3)".
Nothing is made or changed: name the takes you choose in "partsong mix".`,
    )
    .action((clips: string[], options: { guide?: string; json?: boolean }) =>
      runVerb(options, async (context) => {
        const { takesSheet } = await import('../../desk/takes-sheet.ts');
        const sheet = await takesSheet({
          clips,
          guide: options.guide,
          signal: context.signal,
          onStep: (step) => context.progress.begin(step),
        });
        context.progress.end();
        for (const voice of sheet.voices) {
          context.say(`${voice.voice}:`);
          for (const take of voice.takes) {
            context.say(`  ${voice.best?.file === take.file ? '> ' : '  '}${take.file}: ${figuresInWords(take)}`);
            for (const flaw of take.flaws) context.say(`        ${flaw}`);
            for (const note of take.notes) context.say(`        ${note}`);
          }
          if (voice.best !== null) context.say(`  Proposed: ${voice.best.file}. ${voice.best.reason}`);
        }
        return sheet;
      }),
    );
}

function figuresInWords(take: SheetTake): string {
  const level = (value: number | null, unit: string): string =>
    value === null ? 'not known' : `${value.toFixed(1).replace('-', '−')} ${unit}`;
  const words = [
    `${time(take.lengthSec)} long`,
    `music ${level(take.musicLufs, 'LUFS')}${take.musicSec === null ? '' : ` over ${time(take.musicSec)}`}`,
    `peak ${level(take.peakDbfs, 'dBFS')}`,
    `noise ${level(take.noiseDbfs, 'dBFS')}`,
    `clipped ${take.clippedSpots === 0 ? 'nowhere' : `in ${take.clippedSpots} ${take.clippedSpots === 1 ? 'spot' : 'spots'}`}`,
    `silence ${take.silenceSec === null ? 'none' : `${take.silenceSec.toFixed(1)} s`}`,
    `clap ${take.clapSec === null ? 'none' : `at ${time(take.clapSec)}`}`,
  ];
  const { placement } = take;
  if (placement !== null) {
    words.push(`placed within ${placement.exactness}, confidence ${Math.round(placement.confidence * 100)} %`);
  }
  return words.join(', ');
}
