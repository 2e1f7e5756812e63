import { basename, dirname, extname, join } from 'node:path';
import type { Command } from 'commander';
import { Option } from 'commander';
import { PartsongError } from '../../../core/signal/fault.ts';
import { clockText } from '../../../core/signal/time.ts';
import type { PictureReport, PictureSessionOptions } from '../../picture/picture-session.ts';
import type { PictureProgress } from '../../picture/render-picture.ts';
import { parseTrimWord, type Trim } from '../../picture/trim.ts';
import { parseSpan } from '../options.ts';
import { runVerb, type VerbContext } from '../run-verb.ts';
import { addLook, designMaker, momentsReader, type PictureOptions } from './picture-options.ts';

/** `partsong picture`: the video of a session, or of clips that are mixed first. */
export function addPicture(program: Command): void {
  const command = program
    .command('picture')
    .description('lay the clips out as tiles, in time with the mix, and render the video for upload')
    .argument(
      '<session|clip...>',
      'the folder that "partsong mix --out" made, or the clips themselves, top voice first',
    )
    .option(
      '--out <file>',
      'the video: .mp4 for uploads, .mkv for a master with lossless sound (needed unless --gather is)',
    );
  addLook(command)
    .option('--trim <what>', 'music, all, bars, bars:5-12, or FROM-TO in the session (1:02-2:30)', trim)
    .addOption(
      new Option('--encoder <name>', 'x264 works everywhere; the others need their hardware')
        .choices(['x264', 'hardware', 'videotoolbox', 'nvenc', 'qsv', 'amf', 'mf'])
        .default('x264'),
    )
    .addOption(
      new Option('--speed <speed>', 'time spent on making the file small')
        .choices(['quick', 'usual', 'careful'])
        .default('usual'),
    )
    .option('--cover <file>', 'also write a still for the cover, .jpg or .png')
    .option('--guide <file>', 'for clips: what you heard in your headphones')
    .addOption(
      new Option('--edit-list <kind>', 'write the lined-up clips for another program instead of a video').choices([
        'otio',
        'edl',
      ]),
    )
    .option('--gather <folder>', 'with --edit-list: copy clips, stems and mix there, and the list beside them')
    .option('--link', 'with --gather: link files of the same disk instead of copying them')
    .option('--plan', 'print what would be done, with the FFmpeg command, and do nothing')
    .option('--json', 'print the result as JSON')
    .addHelpText(
      'after',
      `
Examples:
  partsong mix clips/*.mov --out canon && partsong picture canon --out canon.mp4 --names
  partsong picture canon --out canon-upright.mp4 --canvas 9:16 --tiling lead --lead descant --title "Evening Canon"
  partsong picture canon --out canon.mp4 --grow all=solo --enter bass=9-24
  partsong picture canon --out canon.otio --edit-list otio

Publishing music needs the rights to it, also to the piece you play; local rules decide.`,
    )
    .action((sources: string[], options: PictureOptions) =>
      runVerb(options, (context) => run(sources, options, context)),
    );
}

async function run(sources: readonly string[], options: PictureOptions, context: VerbContext): Promise<unknown> {
  const { containerOf, planSession, planText, pictureSession } = await import('../../picture/picture-session.ts');
  const out = outOf(options);
  if (options.editList === undefined) containerOf(out);
  const session = await sessionOf(sources, out, options, context);
  if (options.editList !== undefined) return listed(session, out, options.editList, options, context);
  const design = await designMaker(options);
  const moments = await momentsReader(options);
  let told: ReturnType<typeof context.progress.begin> = () => undefined;
  const request: PictureSessionOptions = {
    session,
    target: out,
    design,
    moments,
    trim: options.trim,
    matchTones: options.match,
    encoder: options.encoder,
    speed: options.speed,
    cover: options.cover === undefined ? undefined : { target: options.cover, atSec: undefined },
    signal: context.signal,
    onStep: (step) => {
      told = context.progress.begin(step);
      return told;
    },
    onPicture: (state) => told(state.picture / state.pictures, pictureWords(state)),
  };
  if (options.plan === true) {
    const planned = await planSession(request);
    const command = await planText(planned, request);
    context.progress.end();
    context.say(command);
    for (const note of planned.plan.notes) context.say(`# ${note}`);
    return { ...planned.plan, command };
  }
  const report = await pictureSession(request);
  context.progress.end();
  for (const line of summaryOf(report)) context.say(line);
  return report;
}

/** Where the result goes. A folder to gather in needs no other name. */
function outOf({ out, gather, editList, link }: PictureOptions): string {
  if ((gather !== undefined || link === true) && (editList === undefined || gather === undefined)) {
    const next = 'For example: partsong picture canon --edit-list otio --gather canon-clips';
    throw new PartsongError('bad-option', '--gather goes with --edit-list, and --link with --gather.', next);
  }
  if (gather !== undefined) return out ?? gather;
  if (out !== undefined) return out;
  throw new PartsongError('bad-option', 'Nobody knows where the video is to go.', 'Name it with --out FILE.mp4.');
}

/** The lined-up clips for another program: a list, or a folder with all that it names. */
async function listed(
  session: string,
  out: string,
  kind: 'otio' | 'edl',
  options: PictureOptions,
  context: VerbContext,
): Promise<unknown> {
  const { signal, progress } = context;
  if (options.gather === undefined) {
    const { writeEditList } = await import('../../picture/edit-list-file.ts');
    const list = await writeEditList({ session, target: out, kind, trim: options.trim, signal });
    progress.end();
    context.say(`The edit list: ${list.file}; ${list.clips} clips, named by where they lie from it.`);
    for (const note of list.notes) context.say(`  ${note}`);
    return list;
  }
  const { gatherSession } = await import('../../picture/gather.ts');
  let told: (fraction: number) => void = () => undefined;
  const gathered = await gatherSession(
    session,
    {
      ...{ folder: options.gather, kind, trim: options.trim, links: options.link ?? false, signal },
      onProgress: (fraction) => told(fraction),
    },
    ({ files, sizeBytes, folder }) => {
      told = progress.begin(`Gathering ${files.length} files, ${(sizeBytes / 1e6).toFixed(1)} MB, in ${folder}`);
    },
  );
  progress.end();
  const { files, linked, folder, list, sizeBytes } = gathered;
  const how = linked === 0 ? 'copied' : `${linked} linked, ${files.length - linked} copied`;
  context.say(`In ${folder}: ${list} and ${files.length} files it names (${how}), ${(sizeBytes / 1e6).toFixed(1)} MB.`);
  for (const note of gathered.notes) context.say(`  ${note}`);
  return gathered;
}

/** The session that is named, mixed anew where it was changed since; else the one that mixing the clips makes beside the video. */
async function sessionOf(
  sources: readonly string[],
  out: string,
  options: PictureOptions,
  context: VerbContext,
): Promise<string> {
  const { sessionAmong } = await import('../../desk/session/session-work.ts');
  const { session: named, clips } = await sessionAmong(sources);
  if (named !== undefined && clips.length > 0) {
    throw new PartsongError(
      'bad-option',
      'A session is shown as it stands; clips are no part of that.',
      'Add them with "partsong takes SESSION CLIP..." first.',
    );
  }
  if (named !== undefined) {
    await mixedIfChanged(named, options, context);
    return named;
  }
  const folder = join(dirname(out), `${basename(out, extname(out))} session`);
  const { mixClips } = await import('../../desk/mix-clips.ts');
  await mixClips({
    clips: sources,
    outFolder: folder,
    guide: options.guide,
    targetLufs: -14,
    ceilingDbtp: -1,
    character: 'even',
    title: options.title ?? basename(out, extname(out)),
    signal: context.signal,
    onStep: (step) => context.progress.begin(step),
  });
  context.progress.end();
  context.say(`The mix and the session are in ${folder}.`);
  return folder;
}

async function mixedIfChanged(session: string, options: PictureOptions, context: VerbContext): Promise<void> {
  const { isMixDue, mixSession } = await import('../../desk/mix-session.ts');
  if (options.plan === true || !(await isMixDue(session))) return;
  const { signal, progress } = context;
  await mixSession({ session, clips: [], copy: 'm4a', signal, onStep: (step) => progress.begin(step) });
  progress.end();
  context.say('The session was mixed first, since it was changed after its mix was made.');
}

function trim(text: string): Trim {
  return parseTrimWord(text) ?? { kind: 'span', span: parseSpan(text) };
}

/** How far the pictures are: "1200 of 5400 pictures, 2.4 times playing speed, 1:12 left". */
function pictureWords({ picture, pictures, speed, leftSec }: PictureProgress): string {
  const left = leftSec === undefined ? '' : `, ${clockText(leftSec)} left`;
  return `${picture} of ${pictures} pictures, ${speed.toFixed(1)} times playing speed${left}`;
}

function summaryOf(report: PictureReport): string[] {
  const { sound, canvas } = report;
  const level = (value: number | null, unit: string): string =>
    value === null ? 'silence' : `${value.toFixed(1).replace('-', '\u2212')} ${unit}`;
  const speed = report.lengthSec / Math.max(0.001, report.tookSec);
  const worst = Math.max(0, ...report.tiles.map((tile) => tile.worstOffsetMs));
  return [
    '',
    `The video: ${report.file}, ${canvas.widthPx} x ${canvas.heightPx} px, ${report.rate} pictures/s, ${clockText(report.lengthSec)} long, ${(report.sizeBytes / 1e6).toFixed(1)} MB.`,
    `Its sound: ${level(sound.integratedLufs, 'LUFS')}, true peak ${level(sound.truePeakDbtp, 'dBTP')}, measured in the file.`,
    `Picture and sound lie ${worst.toFixed(1)} ms apart at most. Rendered at ${speed.toFixed(1)} times playing speed.`,
    ...(report.cover === null ? [] : [`The cover: ${report.cover}`]),
    ...(report.notes.length === 0 ? [] : ['', 'Worth knowing:', ...report.notes.map((note) => `  ${note}`)]),
    '',
    'Publishing music needs the rights to it; local rules decide.',
  ];
}
