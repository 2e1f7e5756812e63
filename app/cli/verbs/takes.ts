import type { Command } from 'commander';
import { time } from '../../desk/report/markup.ts';
import type { SheetTake, TakesSheet } from '../../desk/takes-sheet.ts';
import { type AssignmentOptions, addAssignment, assignmentOf } from '../assignment-options.ts';
import { collected, refuseWithoutSession, spanSaid } from '../options.ts';
import { runVerb, type VerbContext } from '../run-verb.ts';

interface TakesOptions extends AssignmentOptions {
  guide?: string;
  score?: string;
  quick?: boolean;
  choose: string[];
  use: string[];
  part: string[];
  bounds: string[];
  mark: string[];
  remark: string[];
  find?: string;
  json?: boolean;
}

/** `partsong takes`: which take of each voice is the best, and why; and which is to sound. */
export function addTakes(program: Command): void {
  const command = program
    .command('takes')
    .description(
      'compare the takes of each voice and propose the best, with reasons; choose and join them in a session',
    )
    .argument('[session|clip...]', 'the takes of all voices; or the folder of a session, and clips to add to it')
    .option('--guide <file>', 'what you heard in your headphones, to see how surely each take finds its place')
    .option('--score <file>', 'the piece as MIDI or MusicXML, to hold pitch against (absent: that of the guide)');
  addAssignment(command, 'name').option('--quick', 'leave timing and pitch out, which take the longest');
  addChoices(command)
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
  partsong takes canon                                        the takes of a session
  partsong takes canon "flute t3.mov" --apart                 adds a clip, and parts those that hold several takes
  partsong takes canon --voice "Tenor=IMG_01,IMG_04"          gives takes of the session to a voice
  partsong takes canon --choose "flute t2" --mark "flute t2=best"
  partsong takes canon --use "flute t1=0:41-0:52" && partsong mix canon

Clips are takes of one voice when their names differ only in the count: "flute take 1", "flute_t2", "flute (3)".
Without a session nothing is made or changed: name the takes you choose in "partsong mix", or let it take the proposed ones (--by name).
In a session only what you say is changed, and what is added to it; what sounds stays what it was. Takes are called by their
names or a part of them. Everything can be taken back ("partsong undo").
Scatter is how far notes lie from their own mean against the guide, or the other voices; spread is the same in pitch.`,
    )
    .action((paths: string[], options: TakesOptions) =>
      runVerb(options, async (context) => {
        const { sessionAmong } = await import('../../desk/session/session-work.ts');
        const { session, clips } = await sessionAmong(paths);
        return session === undefined ? ofClips(clips, options, context) : ofSession(session, clips, options, context);
      }),
    );
}

/** What can be said of the takes of a session, and is kept in it. */
function addChoices(command: Command): Command {
  return command
    .option(
      '--choose <take>',
      'in a session: let its voice sound with this take; or "proposed": each voice with its best',
      collected,
      [],
    )
    .option(
      '--use <take=from-to>',
      'in a session: use this take in a stretch of session time; the ends snap to rests and notes',
      collected,
      [],
    )
    .option('--part <take=from-to>', 'in a session: make a stretch of its clip a take of its own', collected, [])
    .option(
      '--bounds <take=from-to>',
      'in a session: the stretch of its clip that a take is, or "whole"',
      collected,
      [],
    )
    .option('--mark <take=mark>', 'in a session: what you think of it: good, best, no or none', collected, [])
    .option('--remark <take=words>', 'in a session: a remark of your own', collected, [])
    .option('--find <folder>', 'in a session: look for clips that are away, by content');
}

async function ofClips(clips: readonly string[], options: TakesOptions, context: VerbContext): Promise<TakesSheet> {
  const { choose, use, part, bounds, mark, remark, find } = options;
  refuseWithoutSession({ choose, use, part, bounds, mark, remark, find }, 'partsong takes canon --choose "flute t2"');
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
}

async function ofSession(
  session: string,
  clips: readonly string[],
  options: TakesOptions,
  context: VerbContext,
): Promise<TakesSheet> {
  const { takesOfSession } = await import('../../desk/takes-session.ts');
  const { choose, use, part: parts, bounds, mark: marks, remark: remarks } = options;
  const words = { choose, use, parts, bounds, marks, remarks };
  const isTold = Object.values(words).some((list) => list.length > 0);
  const sheet = await takesOfSession({
    session,
    clips,
    ...(await assignmentOf(options)),
    ...words,
    guide: options.guide,
    score: options.score,
    find: options.find,
    // Who says what is to sound need not wait for what takes the longest.
    played: options.quick !== true && (!isTold || choose.includes('proposed')),
    spanOf: spanSaid,
    signal: context.signal,
    onStep: (step) => context.progress.begin(step),
  });
  context.progress.end();
  for (const voice of sheet.voices) {
    sayVoice(voice, context.say);
    context.say(`  Sounds with: ${voice.sounds ?? 'nothing; choose a take with --choose'}.`);
  }
  if (sheet.done.length > 0) context.say('');
  for (const line of [...sheet.done, ...sheet.notes]) context.say(line);
  return sheet;
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
    if (take.noPitch !== null) say(`        ${take.noPitch}`);
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
  if (placement !== null) words.push(`placed ${placement.words}`);
  if (scatterMs !== null) words.push(`scatter ${scatterMs.toFixed(0)} ms`);
  if (spreadCents !== null)
    words.push(`spread ${spreadCents.toFixed(0)} ${spreadCents.toFixed(0) === '1' ? 'cent' : 'cents'}`);
  return words.join(', ');
}
