import { readdirSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import type { Command } from 'commander';
import { runVerb } from '../run-verb.ts';
import { summaryOf } from '../summary.ts';

/** `partsong demo`: the main job on the sample session that comes with Partsong. */
export function addDemo(program: Command): void {
  program
    .command('demo')
    .description('mix the sample session, an evening canon for recorders and viols')
    .option('--out <dir>', 'folder for the result', 'demo-output')
    .option('--json', 'print the report as JSON')
    .addHelpText('after', '\nExamples:\n  partsong demo\n  partsong demo --out canon --json')
    .action((options: { out: string; json?: boolean }) =>
      runVerb(options, async (context) => {
        const { mixClips } = await import('../../desk/mix-clips.ts');
        const sample = fileURLToPath(new URL('../samples/evening-canon/', import.meta.url));
        const takes = join(sample, 'takes');
        const guide = readdirSync(sample).find((name) => /^guide\.(?!guide\.json)/.test(name));
        const { report, folder } = await mixClips({
          clips: readdirSync(takes)
            .sort()
            .map((name) => join(takes, name)),
          outFolder: options.out,
          guide: guide === undefined ? undefined : join(sample, guide),
          targetLufs: -14,
          ceilingDbtp: -1,
          character: 'even',
          copy: 'm4a',
          title: 'Evening canon',
          signal: context.signal,
          onStep: (step) => context.progress.begin(step),
        });
        context.progress.end();
        for (const line of summaryOf(report, folder)) context.say(line);
        return report;
      }),
    );
}
