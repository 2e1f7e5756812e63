import type { Command } from 'commander';
import { runVerb } from '../run-verb.ts';

/** `partsong doctor`: which FFmpeg serves, and what is missing. */
export function addDoctor(program: Command): void {
  program
    .command('doctor')
    .description('tell which FFmpeg is used, what it lacks, and what to do')
    .option('--json', 'print it as JSON')
    .addHelpText(
      'after',
      '\nExamples:\n  partsong doctor\n  partsong doctor --json\n\nSet PARTSONG_FFMPEG to the path of an FFmpeg to use that one.',
    )
    .action((options: { json?: boolean }) =>
      runVerb(options, async (context) => {
        const { describeFfmpeg } = await import('../../media/ffmpeg.ts');
        const found = await describeFfmpeg();
        context.say(`FFmpeg ${found.version} at ${found.path} (${found.origin}).`);
        for (const lack of found.lacks) context.say(`It lacks: ${lack}`);
        for (const advice of found.advice) context.say(advice);
        if (found.lacks.length === 0) context.say('It has all that Partsong needs.');
        context.say(`Node ${process.versions.node}, ${process.platform} ${process.arch}.`);
        return { ffmpeg: found, node: process.versions.node, platform: process.platform, arch: process.arch };
      }),
    );
}
