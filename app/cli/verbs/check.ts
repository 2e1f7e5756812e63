import type { Command } from 'commander';
import { time } from '../../desk/report/markup.ts';
import { runVerb } from '../run-verb.ts';

/** `partsong check`: is this trial take good enough to go on? */
export function addCheck(program: Command): void {
  program
    .command('check')
    .description('sound check: listen to a trial take and say what to change before you record the piece')
    .argument('<clip...>', 'trial takes: some silence, a clap, your loudest passage')
    .option('--guide <file>', 'the guide you played to, to hear whether it leaks from the headphones')
    .option('--json', 'print the findings as JSON')
    .addHelpText(
      'after',
      `
Examples:
  partsong check trial.mov
  partsong check "trial 1.m4a" "trial 2.m4a" --guide canon-guide.wav --json

Findings come in order of worth: "again" spoils the take, "mend" is worth a change, "know" is what Partsong copes with.`,
    )
    .action((clips: string[], options: { guide?: string; json?: boolean }) =>
      runVerb(options, async (context) => {
        const { checkClips } = await import('../../desk/check-clips.ts');
        const report = await checkClips({
          clips,
          guide: options.guide,
          signal: context.signal,
          onStep: (step) => context.progress.begin(step),
        });
        context.progress.end();
        for (const take of report.takes) {
          context.say(`${take.file}: ${take.verdict}`);
          for (const one of take.findings) {
            context.say(`  ${one.weight === 'know' ? 'to know' : one.weight}: ${one.what}`);
            context.say(`      ${one.change}`);
          }
          const { figures } = take;
          const level = (value: number | null, unit: string): string =>
            value === null ? 'not known' : `${value.toFixed(1).replace('-', '−')} ${unit}`;
          context.say(
            `  Loudest peak ${level(figures.peakDbfs, 'dBFS')}, music ${level(figures.musicDbfs, 'dBFS')}, noise ${level(figures.noiseDbfs, 'dBFS')}, silence ${figures.silenceSec === null ? 'none' : `${figures.silenceSec.toFixed(1)} s`}, clap ${figures.clapSec === null ? 'none' : `at ${time(figures.clapSec)}`}, echo ${level(figures.echoSec, 's')}`,
          );
          for (const note of take.notes) context.say(`  ${note}`);
        }
        return report;
      }),
    );
}
