import type { Command } from 'commander';
import { residualWarning } from '../../../core/session/offset-curve.ts';
import type { LineUpReport } from '../../desk/line-up-clips.ts';
import { clockNotes, isUnplaced, placedWords } from '../../desk/placement.ts';
import { ppm, time } from '../../desk/report/markup.ts';
import { collected, momentSaid, refuseWithoutSession } from '../options.ts';
import { runVerb, type VerbContext } from '../run-verb.ts';

interface LineUpOptions {
  guide?: string;
  pin: string[];
  unpin: string[];
  lost: string[];
  move: string[];
  pinsAlone: string[];
  accept: string[];
  back: string[];
  again?: boolean;
  json?: boolean;
}

/** `partsong lineup`: where each take lies, with the evidence; in a session also where the user knows better. */
export function addLineup(program: Command): void {
  program
    .command('lineup')
    .description("find where each take lies on the session's time line, and why; pin and move takes of a session")
    .argument('<session|clip...>', 'the takes; or the folder of a session, and clips to add to it')
    .option('--guide <file>', 'what you heard in your headphones; session time zero is its first sample')
    .option(
      '--pin <take=moment@time>',
      'in a session: this moment of the take belongs to that session time',
      collected,
      [],
    )
    .option(
      '--unpin <take[=moment]>',
      'in a session: take the pin at a moment of a take away, or all of its pins',
      collected,
      [],
    )
    .option('--lost <take=moment>', 'in a session: sound is missing there, between two pins', collected, [])
    .option(
      '--pins-alone <take>',
      'in a session: the bends that were found do not count beside its pins',
      collected,
      [],
    )
    .option('--move <take=ms>', 'in a session: the whole take so much later (below 0: earlier)', collected, [])
    .option('--accept <take>', 'in a session: its place is right, though it asks', collected, [])
    .option('--back <take>', 'in a session: back to where it was found', collected, [])
    .option('--again', 'in a session: line up anew all that was found by itself')
    .option('--json', 'print the placements as JSON')
    .addHelpText(
      'after',
      `
Examples:
  partsong lineup clips/*.mov --guide guide.wav
  partsong lineup descant.m4a bass.mov --json
  partsong lineup canon                                    where the takes of a session lie, and why
  partsong lineup canon --pin "bass=0:41.200@1:02.350" --pin "bass=3:10.5@3:31.62"
  partsong lineup canon --lost "bass=2:05.3"               sound is missing between those two pins
  partsong lineup canon --move "descant=-12" --accept tenor

Without a session nothing is made. In one, takes that have no place yet get one, and else only what you say is changed; it can be
taken back ("partsong undo"). Two pins give offset and clock, more bend it. Moments are the take's own time, times the session's.

offsetSec is the session time at which a clip's time zero sounds; driftPpm how much faster its clock runs;
bends (with --json) where it jumps or changes its speed, trail what was heard of it along the take.`,
    )
    .action((paths: string[], options: LineUpOptions) =>
      runVerb(options, async (context) => {
        const { sessionAmong } = await import('../../desk/session/session-work.ts');
        const { session, clips } = await sessionAmong(paths);
        return session === undefined ? ofClips(clips, options, context) : ofSession(session, clips, options, context);
      }),
    );
}

async function ofClips(clips: readonly string[], options: LineUpOptions, context: VerbContext): Promise<LineUpReport> {
  const { guide, json: _, ...words } = options;
  refuseWithoutSession({ ...words }, 'partsong lineup canon --move "bass=-12"');
  const { lineUpClips } = await import('../../desk/line-up-clips.ts');
  const result = await lineUpClips({
    clips,
    guide,
    signal: context.signal,
    onStep: (step) => context.progress.begin(step),
  });
  context.progress.end();
  for (const take of result.takes) sayTake(take, context.say);
  return result;
}

async function ofSession(
  session: string,
  clips: readonly string[],
  options: LineUpOptions,
  context: VerbContext,
): Promise<LineUpReport> {
  const { lineUpSession } = await import('../../desk/line-up-session.ts');
  const { pin: pins, unpin: unpins, lost, move: moves, pinsAlone: alone, accept, back } = options;
  const result = await lineUpSession({
    session,
    clips,
    ...{ pins, unpins, lost, moves, alone, accept, back },
    guide: options.guide,
    anew: options.again === true,
    momentOf: momentSaid,
    signal: context.signal,
    onStep: (step) => context.progress.begin(step),
  });
  context.progress.end();
  for (const take of result.takes) sayTake(take, context.say);
  if (result.done.length > 0) context.say('');
  for (const line of [...result.done, ...result.notes]) context.say(line);
  return result;
}

function sayTake(
  { file, name = file, placement, notes }: LineUpReport['takes'][number],
  say: (line: string) => void,
): void {
  const { offsetSec } = placement;
  say(
    isUnplaced(placement)
      ? `${name}: its place is not known.`
      : `${name}: begins at ${offsetSec < 0 ? '−' : ''}${Math.abs(offsetSec).toFixed(4)} s, drift ${ppm(placement.driftPpm)}, placed ${placedWords(placement)}.`,
  );
  for (const one of placement.evidence) {
    if (one.anchor === undefined) say(`    ${one.kind}: ${one.note}${one.accepted ? '' : ' (not used)'}`);
    else say(`    pin: ${time(one.takeSec)} of it at ${time(one.atSec)} of the session`);
  }
  const warning = isUnplaced(placement) ? null : residualWarning(placement);
  for (const note of clockNotes(placement)) say(`    ${note}`);
  if (placement.residualSec !== undefined && warning === null)
    say(`    any moment of it lies within ${(1000 * placement.residualSec).toFixed(1)} ms of its place.`);
  if (warning !== null) say(`    Look here: ${warning}`);
  if (placement.question !== null) say(`    Look here: ${placement.question}`);
  for (const note of notes) say(`    ${note}`);
}
