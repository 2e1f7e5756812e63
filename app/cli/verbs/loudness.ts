import type { Command } from 'commander';
import { level } from '../../desk/report/markup.ts';
import { runVerb } from '../run-verb.ts';

/** `partsong loudness`: BS.1770 and EBU figures of any sound file. */
export function addLoudness(program: Command): void {
  program
    .command('loudness')
    .description('measure loudness and true peak (ITU-R BS.1770, EBU R 128)')
    .argument('<file...>', 'sound or video files')
    .option('--json', 'print the figures as JSON')
    .addHelpText('after', '\nExamples:\n  partsong loudness mix.wav\n  partsong loudness *.wav --json')
    .action((files: string[], options: { json?: boolean }) =>
      runVerb(options, async (context) => {
        const { measureLoudness } = await import('../../desk/measure-loudness.ts');
        const step = context.progress.begin(files.length === 1 ? 'Measuring' : `Measuring ${files.length} files`);
        const result = await measureLoudness(files, { signal: context.signal, onProgress: step });
        context.progress.end();
        for (const one of result.files) {
          if (one.samplePeakDbfs === null) {
            context.say(`${one.file}: digital silence, every sample is zero.`);
            continue;
          }
          context.say(
            `${one.file}: ${level(one.integratedLufs, 'LUFS')} integrated, range ${level(one.rangeLu, 'LU')}, short-term up to ${level(one.maxShortTermLufs, 'LUFS')}, momentary up to ${level(one.maxMomentaryLufs, 'LUFS')}, true peak ${level(one.truePeakDbtp, 'dBTP')}, sample peak ${level(one.samplePeakDbfs, 'dBFS')}`,
          );
          for (const note of one.notes) context.say(`    ${note}`);
        }
        return result;
      }),
    );
}
