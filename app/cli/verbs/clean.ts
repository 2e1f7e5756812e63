import type { Command } from 'commander';
import { Option } from 'commander';
import type { Span } from '../../../core/session/schema.ts';
import { level, time } from '../../desk/report/markup.ts';
import { parseSpan } from '../options.ts';
import { runVerb } from '../run-verb.ts';

interface CleanOptions {
  out: string;
  silence?: Span;
  guide?: string;
  rule: 'lsa' | 'wiener' | 'subtract';
  character: 'gentle' | 'even' | 'firm';
  removed?: string;
  json?: boolean;
}

const HOW = { found: 'found', given: 'given', guide: 'where the guide has it', clip: 'elsewhere in the clip' } as const;

/** `partsong clean`: one take without its noise. */
export function addClean(program: Command): void {
  program
    .command('clean')
    .description("take a room's noise out of one take")
    .argument('<clip>', 'the take')
    .requiredOption('--out <file>', "the cleaned take, a float WAV on the take's own time line, same length and level")
    .option(
      '--silence <from-to>',
      "where nobody plays, in the take's own time; without it the silence is searched",
      parseSpan,
    )
    .option('--guide <file>', 'the guide you played to: the silence is searched where the guide has it')
    .addOption(
      new Option('--rule <rule>', 'the gain rule: log-spectral amplitude, Wiener, or power subtraction')
        .choices(['lsa', 'wiener', 'subtract'])
        .default('lsa'),
    )
    .addOption(
      new Option('--character <character>', 'how hard to clean').choices(['gentle', 'even', 'firm']).default('even'),
    )
    .option('--removed <file>', 'also write what was taken away')
    .option('--json', 'print what was done as JSON')
    .addHelpText(
      'after',
      `
Examples:
  partsong clean "descant.mov" --out descant-clean.wav
  partsong clean take.m4a --silence 0:02-0:05 --character firm --out clean.wav --removed noise.wav`,
    )
    .action((clip: string, options: CleanOptions) =>
      runVerb(options, async (context) => {
        const { cleanClip } = await import('../../desk/clean-clip.ts');
        const report = await cleanClip({
          clip,
          out: options.out,
          silence: options.silence,
          guide: options.guide,
          rule: options.rule,
          character: options.character,
          removed: options.removed,
          measured: context.json,
          signal: context.signal,
          onStep: (step) => context.progress.begin(step),
        });
        context.progress.end();
        const { silence, noise } = report;
        if (silence !== null)
          context.say(`Silence: ${time(silence.fromSec)} to ${time(silence.toSec)} (${HOW[silence.how]}).`);
        if (noise !== null) {
          context.say(`Noise: ${level(noise.levelDbfs, 'dBFS')}, now ${level(noise.reducedDb, 'dB')} lower.`);
          if (noise.humHz !== null) context.say(`Hum at ${noise.humHz.toFixed(1)} Hz was taken out by itself.`);
        }
        for (const note of report.notes) context.say(note);
        context.say(`Written: ${options.out}`);
        return report;
      }),
    );
}
