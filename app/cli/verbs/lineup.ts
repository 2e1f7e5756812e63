import type { Command } from 'commander';
import { residualWarning } from '../../../core/session/offset-curve.ts';
import { clockNotes, exactness, isUnplaced } from '../../desk/placement.ts';
import { ppm } from '../../desk/report/markup.ts';
import { runVerb } from '../run-verb.ts';

/** `partsong lineup`: where each take lies, with the evidence. */
export function addLineup(program: Command): void {
  program
    .command('lineup')
    .description("find where each take lies on the session's time line, and why")
    .argument('<clip...>', 'the takes')
    .option('--guide <file>', 'what you heard in your headphones; session time zero is its first sample')
    .option('--json', 'print the placements as JSON')
    .addHelpText(
      'after',
      `
Examples:
  partsong lineup clips/*.mov --guide guide.wav
  partsong lineup descant.m4a bass.mov --json

offsetSec is the session time at which a clip's time zero sounds; driftPpm how much faster its clock runs;
bends (with --json) where it jumps or changes its speed, trail what was heard of it along the take.`,
    )
    .action((clips: string[], options: { guide?: string; json?: boolean }) =>
      runVerb(options, async (context) => {
        const { lineUpClips } = await import('../../desk/line-up-clips.ts');
        const result = await lineUpClips({
          clips,
          guide: options.guide,
          signal: context.signal,
          onStep: (step) => context.progress.begin(step),
        });
        context.progress.end();
        for (const take of result.takes) {
          const { placement } = take;
          if (placement === null) {
            context.say(`${take.file}: not placed.`);
            continue;
          }
          const { offsetSec } = placement;
          context.say(
            isUnplaced(placement)
              ? `${take.file}: its place is not known.`
              : `${take.file}: begins at ${offsetSec < 0 ? '−' : ''}${Math.abs(offsetSec).toFixed(4)} s (within ${exactness(placement)}), drift ${ppm(placement.driftPpm)}, confidence ${Math.round(placement.confidence * 100)} %.`,
          );
          for (const one of placement.evidence)
            context.say(`    ${one.kind}: ${one.note}${one.accepted ? '' : ' (not used)'}`);
          const warning = isUnplaced(placement) ? null : residualWarning(placement);
          for (const note of clockNotes(placement)) context.say(`    ${note}`);
          if (placement.residualSec !== undefined && warning === null)
            context.say(
              `    any moment of it lies within ${(1000 * placement.residualSec).toFixed(1)} ms of its place.`,
            );
          if (warning !== null) context.say(`    Look here: ${warning}`);
          if (placement.question !== null) context.say(`    Look here: ${placement.question}`);
          for (const note of take.notes) context.say(`    ${note}`);
        }
        return result;
      }),
    );
}
