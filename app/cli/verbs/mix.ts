import type { Command } from 'commander';
import { Option } from 'commander';
import { type AssignmentOptions, addAssignment, assignmentOf } from '../assignment-options.ts';
import { numberWithin } from '../options.ts';
import { runVerb } from '../run-verb.ts';
import { summaryOf } from '../summary.ts';

interface MixOptions extends AssignmentOptions {
  out: string;
  guide?: string;
  target: number;
  ceiling: number;
  character: 'gentle' | 'even' | 'firm';
  clean: boolean;
  lead?: string;
  bits: '16' | '24' | 'float';
  copy: 'm4a' | 'flac' | 'mp3' | 'none';
  json?: boolean;
}

/** `partsong mix`: the whole main job. */
export function addMix(program: Command): void {
  const command = program
    .command('mix')
    .description('clean, line up, balance and mix a folder of takes at upload loudness')
    .argument('[clip...]', 'the takes: one clip a voice, in the order of the score, top voice first')
    .requiredOption('--out <dir>', 'folder for the mix, the stems, the session and the report')
    .option('--guide <file>', 'what you heard in your headphones; it makes lining up much surer');
  addAssignment(command, 'clip')
    .option(
      '--target <LUFS>',
      'integrated loudness of the mix (-14 is common practice for music uploads)',
      numberWithin('The target', -40, -5),
      -14,
    )
    .option(
      '--ceiling <dBTP>',
      'highest true peak of the mix (-1 is common practice for music uploads)',
      numberWithin('The ceiling', -12, 0),
      -1,
    )
    .addOption(
      new Option('--character <character>', 'how hard to clean').choices(['gentle', 'even', 'firm']).default('even'),
    )
    .option('--no-clean', 'leave the noise in')
    .option('--lead <name>', 'the voice to bring forward, by (part of) its clip name')
    .addOption(
      new Option('--bits <bits>', 'how fine mix.wav is; 16 bit is dithered (TPDF)')
        .choices(['16', '24', 'float'])
        .default('24'),
    )
    .addOption(
      new Option('--copy <format>', 'also write a copy for upload, cut to the music')
        .choices(['m4a', 'flac', 'mp3', 'none'])
        .default('m4a'),
    )
    .option('--json', 'print the report as JSON')
    .addHelpText(
      'after',
      `
Examples:
  partsong mix "1 descant.m4a" "2 tenor.mov" "3 bass.mov" --out canon
  partsong mix clips/*.mov --guide guide.wav --lead descant --out canon
  partsong mix clips/*.mov --by name --apart --guide guide.wav --out canon
  partsong mix clips/*.mov --out canon --target -16 --ceiling -1.5 --character gentle --json

Where a voice has several takes (--by name, --by order, --voice, --apart) the best proposed is mixed, as "partsong takes" would; the
others are in the session too, to choose on screen.

Makes in the folder: mix.wav (48 kHz, 24 bit where --bits does not say otherwise), a copy for upload, stems/ (each take cleaned and lined up, as long as the
mix, before its gain), session.json, report.json and report.html. Publish only music you have the rights to.`,
    )
    .action((clips: string[], options: MixOptions) =>
      runVerb(options, async (context) => {
        const { mixClips } = await import('../../desk/mix-clips.ts');
        const { report, folder } = await mixClips({
          clips,
          ...(await assignmentOf(options)),
          outFolder: options.out,
          guide: options.guide,
          targetLufs: options.target,
          ceilingDbtp: options.ceiling,
          character: options.clean ? options.character : undefined,
          lead: options.lead,
          wave: options.bits === '16' ? 'pcm16' : options.bits === '24' ? 'pcm24' : 'float32',
          copy: options.copy === 'none' ? undefined : options.copy,
          signal: context.signal,
          onStep: (step) => context.progress.begin(step),
        });
        context.progress.end();
        for (const line of summaryOf(report, folder)) context.say(line);
        return report;
      }),
    );
}
